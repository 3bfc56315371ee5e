"""Anna asks where bands would cost least, and takes the one that she confirms into a draft."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import a_document, a_draft, a_person
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.keyboard import Keyboard
from tests.journeys.readers import sign_in


def seed(tx: Session) -> None:
    a_draft(tx, document=a_document({"heart-rate-high": 185}))
    a_person(tx, Role.AUTHOR)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "night"), (360, True, "day"), (360, False, "day")],
)
def test_advised_bands_become_a_draft_where_they_are_confirmed(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "anna")
    page.goto(f"{address}/skerry/policy/1")

    page.get_by_role("link", name="Bands", exact=True).click()
    expect(page.get_by_role("heading", name="Band advice: Heart rate")).to_be_visible()
    expect(page.get_by_text("Today, with 5 bands, 5 /min of danger")).to_be_visible()
    look_at(page, javascript=javascript)

    # Fewer bands, and the mean instead of the worst.
    page.get_by_label("As small as can be").select_option("mean")
    page.get_by_label("Bands shown").select_option("3")
    page.get_by_role("button", name="Weigh").click()
    expect(page.get_by_text("With 3 bands nothing passes unannounced")).to_be_visible()
    look_at(page, javascript=javascript)

    # What cannot be weighed stays typed.
    page.get_by_label("Danger, a silent unit").fill("plenty")
    page.get_by_role("button", name="Weigh").click()
    expect(page.get_by_text("write a number from 0 to 1000")).to_be_visible()
    expect(page.get_by_label("Danger, a silent unit")).to_have_value("plenty")
    look_at(page, javascript=javascript)
    page.get_by_label("Danger, a silent unit").fill("10")
    page.get_by_role("button", name="Weigh").click()
    expect(page.get_by_text("write a number from 0 to 1000")).to_have_count(0)

    # Nothing is ticked beforehand, and nothing ticked starts nothing.
    boxes = page.get_by_role("checkbox")
    expect(boxes).to_have_count(3)
    expect(page.get_by_role("checkbox", checked=True)).to_have_count(0)
    page.get_by_role("button", name="Start a draft with the bands ticked").click()
    expect(page.get_by_role("alert")).to_contain_text("Confirm at least one band.")

    page.get_by_role("checkbox", name="1 y to 13 y").check()
    page.get_by_role("button", name="Start a draft with the bands ticked").click()
    expect(page.get_by_role("heading", name="revision 2")).to_be_visible()
    expect(
        page.get_by_text("Every reason and source of a new limit is left to you.")
    ).to_be_visible()
    expect(page.get_by_text("3 cells without a reason or source.").first).to_be_visible()


def test_a_band_is_confirmed_by_keyboard_alone(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = sign_in(open_page(), address, "anna")
    page.goto(f"{address}/skerry/policy/1/bands?bands=3")

    keys = Keyboard(page)
    keys.to(page.get_by_role("region", name="Proposed bands, drawn"))
    keys.to(page.get_by_role("checkbox", name="birth to 1 y"))
    keys.press("Space")
    keys.push("Start a draft with the bands ticked")

    expect(page.get_by_role("heading", name="revision 2")).to_be_visible()


def look_at(page: Page, *, javascript: bool) -> None:
    assert not javascript or axe(page) == []
    assert not javascript or not overflows(page)
