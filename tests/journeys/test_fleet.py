"""Read blind → locked → the consequence → contained → corrected → read again → closed."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.builders import PRESET, a_device, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import begin, fill, lock, sign_in

CONSEQUENCE = "Heart rate can rise from 170 to 200 /min unannounced."


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    a_device(tx)
    for role in (Role.FLEET_MANAGER, Role.TECHNICIAN):
        a_person(tx, role)


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_loose_limit_is_found_and_put_right(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width, javascript=javascript), address, "femi")
    tess = sign_in(open_page(width=width, javascript=javascript), address, "tess")

    # Femi reads the device blind, and is told only that something is unsafe.
    femi.get_by_role("navigation").get_by_role("link", name="Fleet").click()
    look_at(femi, "The tide wall", javascript=javascript)
    femi.get_by_role("row", name="boat-3").get_by_role("link").click()
    look_at(femi, "boat-3", javascript=javascript)
    femi.get_by_role("link", name="Read it blind").click()
    look_at(femi, "Read boat-3", javascript=javascript)
    begin(femi)
    look_at(femi, f"boat-3, {PRESET}", javascript=javascript)
    fill(femi, {"Heart rate high": "2000"})
    lock(femi)
    expect(femi.get_by_text("nothing you typed is lost")).to_be_visible()
    expect(femi.get_by_label("SpO₂ low, %", exact=True)).to_have_value("90")
    look_at(femi, f"boat-3, {PRESET}", javascript=javascript)
    femi.get_by_label("Heart rate high, /min", exact=True).fill("200")
    lock(femi)
    expect(femi.get_by_text("Keep boat-3 from the next patient")).to_be_visible()
    expect(femi.get_by_text("Somebody else looks now")).to_be_visible()
    look_at(femi, f"boat-3, {PRESET}", javascript=javascript)

    # Tess looks again, as blind as Femi. Only now it is told what that means.
    tess.get_by_role("navigation").get_by_role("link", name="Read", exact=True).click()
    look_at(tess, "Read a device", javascript=javascript)
    tess.get_by_role("link", name=f"boat-3, {PRESET}").click()
    look_at(tess, f"boat-3, {PRESET}", javascript=javascript)
    assert len(fill(tess, {"Heart rate high": "200"})) == 3
    lock(tess)
    expect(tess.get_by_text(CONSEQUENCE)).to_be_visible()
    look_at(tess, f"boat-3, {PRESET}", javascript=javascript)
    tess.get_by_role("link", name="Finding 1, open").click()
    expect(tess.get_by_role("heading", name=CONSEQUENCE)).to_be_visible()
    look_at(tess, "Heart rate can rise", javascript=javascript)

    # Tess contains and corrects it; her own word does not verify it.
    tess.get_by_role("navigation").get_by_role("link", name="Findings").click()
    look_at(tess, "Findings", javascript=javascript)
    tess.get_by_role("link", name=CONSEQUENCE).click()
    tess.get_by_label("What keeps patients away").fill("Taken off the boat, spare in its place")
    tess.get_by_role("button", name="Contain").click()
    expect(tess.get_by_text("Finding 1 is contained.")).to_be_visible()
    tess.get_by_label("What was set").fill("Set to 170; the battery swap had reset it")
    tess.get_by_role("button", name="Correct").click()
    expect(tess.get_by_text("Finding 1 is corrected.")).to_be_visible()
    tess.get_by_role("button", name="Verify").click()
    expect(tess.get_by_text("Nobody but Tess has read")).to_be_visible()
    look_at(tess, "Heart rate can rise", javascript=javascript)

    # Femi reads it again, verifies and closes.
    femi.goto(f"{address}/skerry/devices/boat-3/read")
    begin(femi)
    fill(femi)
    lock(femi)
    expect(femi.get_by_text("What was read holds.")).to_be_visible()
    femi.goto(f"{address}/skerry/findings/1")
    femi.get_by_role("button", name="Verify").click()
    expect(femi.get_by_text("Finding 1 is verified.")).to_be_visible()
    femi.get_by_label("Cause", exact=True).select_option("reverted at power-off")
    femi.get_by_label("Alarm heard").select_option("yes")
    femi.get_by_label("Alarm seen").select_option("not tested")
    femi.get_by_role("button", name="Close").click()
    expect(femi.get_by_text("it is closed")).to_be_visible()
    look_at(femi, "Heart rate can rise", javascript=javascript)
    femi.goto(f"{address}/skerry/findings")
    expect(femi.get_by_text("There is no such finding.")).to_be_visible()


def look_at(page: Page, heading: str, *, javascript: bool) -> None:
    """Nothing breaks WCAG 2.2 AA, and nothing must be scrolled sideways."""
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    if javascript:  # both are asked by script
        assert axe(page) == []
        assert not overflows(page)
