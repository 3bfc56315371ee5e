"""Read blind → locked → the consequence → contained → corrected → read again → closed."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.builders import PASSWORD, PRESET, a_device, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows

LIMITS = {
    "Heart rate low, /min": "75",
    "Heart rate high, /min": "170",
    "Respiratory rate low, /min": "15",
    "Respiratory rate high, /min": "50",
    "SpO₂ low, %": "90",
    "NIBP systolic low, mmHg": "80",
    "Apnoea, s": "20",
    "Airway apnoea, s": "20",
}
ARRESTS = ("Asystole", "Ventricular fibrillation", "Ventricular tachycardia")
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

    # Femi reads the device blind.
    femi.get_by_role("navigation").get_by_role("link", name="Fleet").click()
    look_at(femi, "The tide wall", javascript=javascript)
    femi.get_by_role("row", name="boat-3").get_by_role("link").click()
    look_at(femi, "boat-3", javascript=javascript)
    femi.get_by_role("link", name="Read it blind").click()
    femi.get_by_role("link", name=PRESET).click()
    expect(femi.get_by_role("heading", name=f"Read boat-3, {PRESET}")).to_be_visible()
    assert "170" not in femi.content()
    fill(femi, LIMITS | {"Heart rate high, /min": "2000"})
    femi.get_by_role("button", name="Lock this reading").click()
    expect(femi.get_by_text("nothing you typed is lost")).to_be_visible()
    expect(femi.get_by_label("SpO₂ low, %", exact=True)).to_have_value("90")
    look_at(femi, "Read boat-3", javascript=javascript)
    femi.get_by_label("Heart rate high, /min", exact=True).fill("200")
    femi.get_by_role("button", name="Lock this reading").click()

    # Only now it is told what that means.
    expect(femi.get_by_text(CONSEQUENCE)).to_be_visible()
    look_at(femi, "boat-3, preschool", javascript=javascript)
    femi.get_by_role("link", name="Finding 1, open").click()
    expect(femi.get_by_role("heading", name=CONSEQUENCE)).to_be_visible()
    look_at(femi, "Heart rate can rise", javascript=javascript)

    # Tess contains and corrects it; her own word does not verify it.
    tess.get_by_role("navigation").get_by_role("link", name="Findings").click()
    look_at(tess, "Findings", javascript=javascript)
    tess.get_by_role("link", name=CONSEQUENCE).click()
    tess.get_by_label("What keeps patients away").fill("Taken off the boat, spare in its place")
    tess.get_by_role("button", name="Contain").click()
    tess.get_by_label("What was set").fill("Set to 170; the battery swap had reset it")
    tess.get_by_role("button", name="Correct").click()
    tess.get_by_role("button", name="Verify").click()
    expect(tess.get_by_text("Nobody but Tess has read")).to_be_visible()
    look_at(tess, "Heart rate can rise", javascript=javascript)

    # Femi reads it again, verifies and closes.
    femi.reload()
    femi.get_by_role("link", name="Read it blind").click()
    fill(femi, LIMITS)
    femi.get_by_role("button", name="Lock this reading").click()
    expect(femi.get_by_text("What was read holds.")).to_be_visible()
    femi.goto(f"{address}/skerry/findings/1")
    femi.get_by_role("button", name="Verify").click()
    femi.get_by_role("button", name="Close").click()
    expect(femi.get_by_text("it is closed")).to_be_visible()
    look_at(femi, "Heart rate can rise", javascript=javascript)
    femi.goto(f"{address}/skerry/findings")
    expect(femi.get_by_text("There is no such finding.")).to_be_visible()


def sign_in(page: Page, address: str, username: str) -> Page:
    page.goto(f"{address}/sign-in?agency=skerry")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    return page


def fill(page: Page, limits: dict[str, str]) -> None:
    page.get_by_label("Just switched on").check()
    for label, value in limits.items():
        page.get_by_label(label, exact=True).fill(value)
    page.get_by_label("SpO₂ high: or else").select_option("off")
    for arrest in ARRESTS:
        page.get_by_label(f"{arrest}: found").select_option("on")


def look_at(page: Page, heading: str, *, javascript: bool) -> None:
    """Nothing breaks WCAG 2.2 AA, and nothing must be scrolled sideways."""
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    if javascript:  # both are asked by script
        assert axe(page) == []
        assert not overflows(page)


def test_every_target_of_the_blind_form_is_large_enough_for_a_thumb(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360), address, "femi")

    page.goto(f"{address}/skerry/devices/boat-3/read?preset={PRESET}")

    small: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(
             "form.reading :is(input:not([type=hidden], [type=radio], [type=checkbox])," +
             "select, button, label.pick)")]
           .filter((target) => target.checkVisibility())
           .filter((target) => target.getBoundingClientRect().height < 48)
           .map((target) => target.outerHTML)"""
    )
    assert page.locator("form.reading select").count() > 10
    assert small == []
