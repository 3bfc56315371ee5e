"""An unsafe draft is commented on, resolved, waived and signed; the crew reads the waiver."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.actions.test_waivers import UNSAFE
from tests.builders import PASSWORD, a_person, a_revision_in_review
from tests.journeys.conftest import Seed
from tests.journeys.readers import sign_in
from tests.journeys.test_director import look_at

REASON = "New probes come in spring"


def seed(tx: Session) -> None:
    a_revision_in_review(tx, document=UNSAFE)
    for role in (Role.REVIEWER, Role.MEDICAL_DIRECTOR):
        a_person(tx, role)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (360, False, "day")],
)
def test_a_finding_is_waived_a_comment_resolved_and_the_revision_signed(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    revision = f"{address}/skerry/policy/1"

    def come(username: str) -> Page:
        page = open_page(width=width, javascript=javascript, theme=theme)
        return sign_in(page, address, username)

    # Ravi asks about the cell.
    ravi = come("ravi")
    ravi.goto(revision)
    ravi.get_by_role("link", name="Comment on Preschool, Heart rate high").click()
    expect(ravi.get_by_label("Comment on this cell")).to_be_visible()
    look_at(ravi, javascript=javascript)
    ravi.get_by_label("Comment on this cell").fill("Why above 180?")
    ravi.get_by_role("button", name="Keep the comment").click()
    expect(ravi.get_by_text("Why above 180?")).to_be_visible()

    # Dana sees what blocks her, waives and resolves.
    dana = come("dana")
    dana.goto(revision)
    dana.get_by_role("link", name="Sign…").click()
    expect(dana.get_by_text("It cannot be signed yet.")).to_be_visible()
    look_at(dana, javascript=javascript)
    dana.locator("summary", has_text="Waive…").click()
    dana.get_by_label("Why it is accepted").fill(REASON)
    dana.get_by_label("Last day of the waiver").fill(in_days(0))
    dana.get_by_role("button", name="Waive this finding").click()
    expect(dana.get_by_text("choose a day after today")).to_be_visible()
    expect(dana.get_by_label("Why it is accepted")).to_have_value(REASON)
    look_at(dana, javascript=javascript)
    dana.get_by_label("Last day of the waiver").fill(in_days(90))
    dana.get_by_role("button", name="Waive this finding").click()
    expect(dana.locator("#findings .waived")).to_contain_text(REASON)
    look_at(dana, javascript=javascript)
    dana.locator("summary", has_text="Resolve…").click()
    dana.get_by_label("What was done about it").fill("Waived until spring")
    dana.get_by_role("button", name="Resolve").click()
    expect(dana.locator("#comments")).to_contain_text("0 of 1 not resolved")

    # She signs, with a review in half a year.
    dana.get_by_role("link", name="Sign…").click()
    expect(dana.get_by_text("Waived, and signed with it")).to_be_visible()
    look_at(dana, javascript=javascript)
    dana.get_by_label("Meaning of your signature").fill("Approved for the winter")
    dana.get_by_label("To be reviewed by").fill(in_days(180))
    dana.get_by_label("Your password, once more").fill(PASSWORD)
    dana.get_by_role("button", name="Sign revision 1").click()
    expect(dana.locator("#facts")).to_contain_text("To be reviewed by")
    look_at(dana, javascript=javascript)

    # A crew without an account reads the waiver beside the limit.
    crew = open_page(width=width, javascript=javascript, theme=theme)
    crew.goto(f"{address}/skerry/limits?category=preschool")
    expect(crew.locator("section", has_text="Heart rate").first).to_contain_text(REASON)
    look_at(crew, javascript=javascript)


def in_days(days: int) -> str:
    return (wall_clock() + timedelta(days=days)).date().isoformat()
