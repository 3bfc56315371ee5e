"""A wall is moved in a draft, the finding goes → submitted → reviewed → signed → in force."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.builders import PASSWORD, a_document, a_draft, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

UNSAFE = "Preschool: Heart rate can rise to 185 /min unannounced"


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    a_draft(tx, document=a_document({"heart-rate-high": 185}))
    for role in (Role.REVIEWER, Role.MEDICAL_DIRECTOR):
        a_person(tx, role)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (1280, False, "day"), (360, False, "day")],
)
def test_a_wall_is_moved_and_the_revision_signed(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)

    def come(username: str) -> Page:
        page = open_page(width=width, javascript=javascript, theme=theme)
        return sign_in(page, address, username)

    # Anna sees the silence, and moves the wall through the grid.
    anna = come("anna")
    anna.get_by_role("navigation").get_by_role("link", name="Policy").click()
    expect(anna.get_by_role("heading", name="Alarm-limit policy")).to_be_visible()
    look_at(anna, javascript=javascript)
    anna.get_by_role("link", name="Revision 2").click()
    expect(anna.locator("#findings li.unsafe")).to_contain_text(UNSAFE)
    look_at(anna, javascript=javascript)
    cell = anna.get_by_role("link", name="Preschool, Heart rate high: above 185 /min")
    cell.click()
    anna.get_by_label("Alarm above, /min").fill("a lot")
    anna.get_by_role("button", name="Save").click()
    expect(anna.get_by_text("write a number such as 90 or 37.5")).to_be_visible()
    look_at(anna, javascript=javascript)
    anna.get_by_label("Alarm above, /min").fill("175")
    anna.get_by_role("button", name="Save").click()
    expect(anna.locator("#findings li.unsafe")).to_have_count(0)
    expect(anna.locator("#corridor text.limit", has_text="175")).to_have_count(1)
    expect(anna.locator("#redline")).to_contain_text("can rise from 170 to 175 /min")
    look_at(anna, javascript=javascript)

    # She walks to a child of three and takes the wall down by a step.
    anna.get_by_label("Or write an age").fill("3 y")
    anna.get_by_role("button", name="Go").click()
    expect(anna.get_by_role("heading", name="At 3 y")).to_be_visible()
    anna.get_by_role("button", name="Heart rate high: one step down").click()
    expect(anna.locator("#strip")).to_contain_text("above 174 /min")
    expect(anna.get_by_role("heading", name="At 3 y")).to_be_visible()
    anna.get_by_role("button", name="Submit for review").click()
    expect(anna.locator("#facts")).to_contain_text("in review")

    # Ravi, who wrote none of it, reviews.
    ravi = come("ravi")
    ravi.goto(f"{address}/skerry/policy/2")
    ravi.locator("summary", has_text="Record my review").click()
    ravi.get_by_label("Note (may stay empty)").fill("Checked against the published fan")
    ravi.get_by_role("button", name="Record my review").click()
    expect(ravi.locator("#facts")).to_contain_text("Reviewed by")
    look_at(ravi, javascript=javascript)

    # Dana signs; a wrong password is told, and what she wrote stays.
    dana = come("dana")
    dana.goto(f"{address}/skerry/policy/2")
    dana.get_by_role("link", name="Sign…").click()
    expect(dana.get_by_role("heading", level=1)).to_have_text("Sign revision 2")
    look_at(dana, javascript=javascript)
    dana.get_by_label("Meaning of your signature").fill("Approved as our policy")
    dana.get_by_label("Your password, once more").fill("not this one")
    dana.get_by_role("button", name="Sign revision 2").click()
    expect(dana.get_by_text("this is not your password")).to_be_visible()
    expect(dana.get_by_label("Meaning of your signature")).to_have_value("Approved as our policy")
    look_at(dana, javascript=javascript)
    dana.get_by_label("Your password, once more").fill(PASSWORD)
    dana.get_by_role("button", name="Sign revision 2").click()
    expect(dana.locator("#facts")).to_contain_text("in force")
    expect(dana.locator("#facts")).to_contain_text("“Approved as our policy”")
    look_at(dana, javascript=javascript)


def test_arrow_keys_walk_a_child_along_the_axis(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = sign_in(open_page(), address, "anna")
    page.goto(f"{address}/skerry/policy/2?age=11.5+mo")
    line = page.locator("#age-line path").first
    before = line.get_attribute("d") or ""

    page.locator("#at").press("ArrowRight")

    expect(page.get_by_role("heading", name="At 1 y")).to_be_visible()
    expect(page.locator("#strip .how")).to_contain_text("Preschool")
    expect(page.locator("#walk-age")).to_have_text("1 y")
    expect(line).not_to_have_attribute("d", before)


def look_at(page: Page, *, javascript: bool) -> None:
    """No page that anybody passes needs to be scrolled sideways, or breaks WCAG."""
    if javascript:
        assert axe(page) == []
        assert not overflows(page)
