"""The one-time link → the first administrator → a second person → signed out."""

from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, expect

from app.actions.people import make_setup_link
from app.main import wall_clock
from tests.journeys.conftest import Seed, axe, overflows

PASSWORD = "seven grey seals on a skerry"


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (320, True), (360, False)])
def test_an_agency_begins(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    links: list[str] = []
    address = serve(lambda tx: links.append(make_setup_link(tx, now=wall_clock())))
    page = open_page(width=width, javascript=javascript)

    page.goto(f"{address}/setup/{links[0]}")
    look_at(page, javascript=javascript)
    page.get_by_label("Name of the agency").fill("Skerry Isles Ambulance")
    page.get_by_label("Short name").fill("skerry-isles")
    page.get_by_label("Your name").fill("Ada")
    page.get_by_label("Username").fill("ada")
    page.get_by_label("Password").fill("short")
    page.get_by_role("button", name="Make agency and account").click()
    expect(page.get_by_text("Nothing was stored")).to_be_visible()
    expect(page.get_by_label("Your name")).to_have_value("Ada")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Make agency and account").click()
    expect(page.get_by_text("Agency and account are made.")).to_be_visible()

    page.get_by_label("Username").fill("ada")
    page.get_by_label("Password").fill(PASSWORD)
    look_at(page, javascript=javascript)
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(f"{address}/skerry-isles/")
    look_at(page, javascript=javascript)

    page.get_by_role("navigation").get_by_role("link", name="People").click()
    page.get_by_label("Name", exact=True).fill("Femi")
    page.get_by_label("Username").fill("femi")
    page.get_by_label("fleet manager").check()
    look_at(page, javascript=javascript)
    page.get_by_role("button", name="Invite").click()
    expect(page.get_by_role("row", name="Femi")).to_be_visible()
    link = page.locator("code.token").inner_text()
    look_at(page, javascript=javascript)

    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("link", name="Read the manual")).to_be_visible()
    page.goto(f"{address}{urlsplit(link).path}")
    expect(page.get_by_role("heading", name="Set your password")).to_be_visible()
    look_at(page, javascript=javascript)
    page.get_by_label("Password").fill("a lantern on the north pier")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Sign in as femi with it.")).to_be_visible()
    page.get_by_label("Username").fill("femi")
    page.get_by_label("Password").fill("a lantern on the north pier")
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(f"{address}/skerry-isles/")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("link", name="Read the manual")).to_be_visible()
    page.goto(f"{address}/skerry-isles/people")
    expect(page).to_have_url(f"{address}/sign-in?next=/skerry-isles/people")


def look_at(page: Page, *, javascript: bool) -> None:
    """Nothing breaks WCAG 2.2 AA, and nothing must be scrolled sideways."""
    if javascript:  # both are asked by script
        assert axe(page) == []
        assert not overflows(page)
