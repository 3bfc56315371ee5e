"""A revision signed → its jobs → read blind → verified on the curve; the wall; the re-audit."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.adopted_bounds import adopted_bounds
from tests.builders import (
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

EVERY = ("neonate", "infant", PRESET, "school", "adult")
DAY = timedelta(days=1)


def seed(tx: Session) -> None:
    """Two devices hold revision 1; the second one is in force for 31 days."""
    now = wall_clock()
    first = now - 60 * DAY
    a_signed_revision(tx, now=first)
    for tag in ("boat-3", "boat-4"):
        a_device(tx, tag)
        for preset in EVERY:
            a_report(tx, as_signed(preset), device=tag, preset=preset, read_at=first + DAY)
    a_signed_revision(tx, document=a_document({"heart-rate-high": 165}), now=now - 31 * DAY)
    changed = as_signed(heart_rate_high=limit(165))
    a_report(tx, changed, device="boat-4", read_at=now - 20 * DAY)
    adopted_bounds(tx, now=now - DAY)
    a_person(tx, Role.FLEET_MANAGER)


@pytest.mark.parametrize(("width", "theme"), [(1280, "light"), (320, "light"), (1280, "dark")])
def test_the_policy_reaches_the_fleet(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width), address, "femi")
    femi.emulate_media(color_scheme="dark" if theme == "dark" else "light")

    femi.get_by_role("link", name="How far the policy has reached the devices").click()
    look_at(femi, "Changeover to revision 2")
    expect(femi.get_by_text("1 device was missed")).to_be_visible()
    expect(femi.get_by_text("Heart rate high: 170 /min → 165 /min")).to_be_visible()
    expect(femi.get_by_text("80 % in 7 days: missed")).to_be_visible()
    cut = femi.evaluate(
        """() => { const sheet = document.querySelector(".reach-curve .sheet");
                   return sheet.scrollWidth > sheet.clientWidth; }"""
    )
    assert not cut, "the curve is whole on a phone"
    femi.get_by_text("As a table").click()
    femi.get_by_text("dunlin, preschool").click()
    look_at(femi, "Changeover to revision 2")

    femi.get_by_role("link", name="work order", exact=True).click()
    look_at(femi, "Work orders")
    expect(femi.get_by_role("heading", name="boat-3: set to revision 2")).to_be_visible()
    expect(femi.locator("th", has_text="As found")).to_have_count(1)

    femi.goto(f"{address}/skerry/fleet")
    look_at(femi, "The tide wall")
    femi.get_by_role("link", name="0 under water").click()
    expect(femi.get_by_text("No device is in this stretch")).to_be_visible()
    look_at(femi, "The tide wall")

    femi.goto(f"{address}/skerry/fleet/reaudit")
    look_at(femi, "Re-audit")
    femi.get_by_role("button", name="Re-audit the fleet").click()
    expect(femi.get_by_text("2 devices held against today’s policy")).to_be_visible()
    look_at(femi, "Re-audit")


def test_a_stretch_is_chosen_by_keyboard(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(), address, "femi")
    femi.goto(f"{address}/skerry/fleet")

    femi.get_by_role("link", name="Job list: read 0 to 44 d ago").focus()
    femi.keyboard.press("Enter")

    expect(femi.get_by_role("heading", name="Job list")).to_be_visible()
    expect(femi.get_by_text("No device is in this stretch")).to_be_visible()


def look_at(page: Page, heading: str) -> None:
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    assert axe(page) == []
    assert not overflows(page)
