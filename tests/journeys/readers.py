"""Whoever reads a device with a thumb, in a real browser."""

from collections.abc import Mapping

from playwright.sync_api import Locator, Page

from tests.builders import PASSWORD, PRESET

SIGNED = {
    "Heart rate low": "75",
    "Heart rate high": "170",
    "Respiratory rate low": "15",
    "Respiratory rate high": "50",
    "SpO₂ low": "90",
    "SpO₂ high": "off",
    "NIBP systolic low": "80",
    "Apnoea": "20",
    "Airway apnoea": "20",
    "Asystole": "on",
    "Ventricular fibrillation": "on",
    "Ventricular tachycardia": "on",
}


def sign_in(page: Page, address: str, username: str, *, agency: str = "skerry") -> Page:
    """Back on the first page behind the sign-in, whole."""
    page.goto(f"{address}/sign-in?agency={agency}")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)
    return page


def begin(page: Page) -> None:
    """On the first page of a reading."""
    page.get_by_label(PRESET, exact=True).check()
    page.get_by_label("Just switched on").check()
    page.get_by_label("monthly check").check()
    page.get_by_label("Software version").fill("3.2")
    page.get_by_role("button", name="Begin").click()


def fill(page: Page, instead: Mapping[str, str] | None = None) -> list[str]:
    """What is asked, as signed but for what is found instead; told in the order it is asked."""
    found = {**SIGNED, **(instead or {})}
    page.locator("fieldset.alarm").first.wait_for()
    page.wait_for_load_state()
    alarms = page.locator("fieldset.alarm").all()
    asked = [alarm.locator("legend").inner_text() for alarm in alarms]
    for alarm, label in zip(alarms, asked, strict=True):
        answer(alarm, found[label])
    return asked


def answer(alarm: Locator, found: str) -> None:
    if found[0].isdigit():
        alarm.locator(".amount input").fill(found)
    elif alarm.locator("select.instead").count():
        alarm.locator("select.instead").select_option(found)
    else:
        alarm.get_by_label(found, exact=True).check()


def lock(page: Page) -> None:
    page.get_by_role("button", name="Lock this look").click()
