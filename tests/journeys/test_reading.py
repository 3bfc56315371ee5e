"""Reading with a thumb: how large, how many presses, and what a step does."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, Route, expect
from sqlmodel import Session

from app.demo.profile import document
from app.demo.rounds import as_signed
from app.domain.device_reports import FoundOn, Reading
from app.domain.people import Role
from app.domain.rendering import rendered_presets
from app.domain.settings_of_alarms import show_number
from app.exchange.profile_json import profile_from_document
from app.main import wall_clock
from tests.builders import a_device, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

MODEL, PRESET = "turnstone", "Adult"
MOST_PRESSES, FIELDS = 120, 40
SMALL = """() => [...document.querySelectorAll(
  "form.reading :is(input:not([type=hidden], [type=radio], [type=checkbox])," +
  "select, button, label.pick)")]
  .filter((target) => target.checkVisibility())
  .filter((target) => target.getBoundingClientRect().height < 48)
  .map((target) => target.outerHTML)"""
SMALL_KEYS = """() => [...document.querySelectorAll(".keypad button")]
  .filter((key) => key.checkVisibility() && key.getBoundingClientRect().height < 48)
  .map((key) => key.outerHTML)"""
COUNT_TAPS = """() => {
  sessionStorage.taps = "5";  // those that began it
  addEventListener("pointerdown", (event) => {
    const digit = event.target.closest(".keypad-keys") && /^[0-9.]$/.test(event.target.textContent);
    if (!digit) sessionStorage.taps = Number(sessionStorage.taps) + 1;
  }, { capture: true });
}"""
COUNT = """() => {
  window.presses = 0;
  addEventListener("keydown", (event) => {
    if (!/^[0-9.]$/.test(event.key)) window.presses += 1;
  }, { capture: true });
  addEventListener("pointerdown", () => { window.presses += 1; }, { capture: true });
}"""


def forty_fields() -> dict[str, Any]:
    """All that an adult's preset of the model can hold, one field each: the invented policy with
    nothing left as not fitted, and without the deep lines, which would be more."""
    policy = document(1)
    adult = policy["settings"]["adult"]
    for alarm, setting in adult.items():
        setting.pop("deep", None)
        if setting["state"] == "not-fitted":
            adult[alarm] = {"state": "off", "reason": "no invasive pressure on the road"}
    return policy


def seed(tx: Session) -> None:
    began = wall_clock() - timedelta(days=30)
    a_signed_revision(tx, document=forty_fields(), now=began)
    a_device(tx, "air-3", model=MODEL)
    a_person(tx, Role.FLEET_MANAGER)


@pytest.fixture
def femi(serve: Callable[[Seed], str], open_page: Callable[..., Page]) -> Page:
    """At the first look of a whole preset."""
    address = serve(seed)
    page = sign_in(open_page(width=360, height=780), address, "femi")
    page.goto(f"{address}/skerry/devices/air-3/read")
    assert page.evaluate(SMALL) == []
    assert axe(page) == []
    begin_whole(page)
    return page


def begin_whole(page: Page) -> None:
    begin(page)
    expect(page.locator("fieldset.alarm")).to_have_count(FIELDS)
    page.wait_for_load_state()


def begin(page: Page) -> None:
    page.goto(f"{page.url.split('/skerry')[0]}/skerry/devices/air-3/read")
    page.get_by_label(PRESET, exact=True).check()
    page.get_by_label("Just switched on").check()
    page.get_by_label("after service").check()
    page.get_by_label("Software version").fill("2.0.7")
    page.get_by_role("button", name="Begin").click()


def test_every_target_is_large_enough_for_a_thumb(femi: Page) -> None:
    assert femi.evaluate(SMALL) == []
    assert axe(femi) == []
    assert not overflows(femi)


def test_a_whole_preset_takes_few_presses_beyond_its_digits(femi: Page) -> None:
    found = held()
    femi.evaluate(COUNT)

    femi.locator("fieldset.alarm").first.locator(".amount input").click()
    for alarm, has_unit in asked(femi):
        unit = "" if not has_unit else "k" if "co2" in alarm else "ArrowDown"  # kPa, °C
        press(femi, found[alarm], unit)
    presses = femi.evaluate("window.presses")
    femi.get_by_role("button", name="Lock this look").click()

    expect(femi.get_by_text("What was read holds.")).to_be_visible()
    assert presses + 5 <= MOST_PRESSES  # the five that began and lock it


def held() -> dict[str, Reading]:
    return as_signed(rendered_presets(profile_from_document(forty_fields()), MODEL)[PRESET])


def asked(page: Page) -> list[tuple[str, bool]]:
    """The alarms in their order, and whether a unit is to be chosen."""
    told: list[list[object]] = page.evaluate(
        """() => [...document.querySelectorAll("fieldset.alarm")].map((alarm) => [
             alarm.querySelector(".amount input, .chips").id,
             alarm.querySelector("select.unit") !== null])"""
    )
    return [(str(alarm), bool(unit)) for alarm, unit in told]


def press(page: Page, found: Reading, unit: str) -> None:
    """With a keyboard, from the field that has the focus on to the next one."""
    key = page.keyboard
    if not isinstance(found, FoundOn):
        key.press("Tab")
        if unit:
            key.press("Tab")
        key.press("o")  # off
        key.press("Tab")
    elif found.limit is None:
        key.press("Space")
        key.press("Tab")
    else:
        key.type(show_number(found.limit))
        key.press("Enter")
        if unit:
            key.press(unit)
            key.press("Tab")
            key.press("Tab")


def test_a_finger_on_the_keypad_reads_a_whole_preset_in_few_taps(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    """As above, every tap beyond a digit counted, with nothing but the screen."""
    found = held()
    page = sign_in(open_page(width=360, height=780, touch=True), serve(seed), "femi")
    begin_whole(page)
    page.evaluate(COUNT_TAPS)

    page.locator("fieldset.alarm").first.locator(".amount input").tap()
    pad = page.get_by_role("group", name="Keypad")
    expect(pad).to_be_visible()
    assert axe(page) == []
    assert not overflows(page)
    assert page.evaluate(SMALL_KEYS) == []
    for alarm, has_unit in asked(page):
        tap(page, pad, alarm, found[alarm], has_unit=has_unit)
    page.get_by_role("button", name="Lock this look").tap()

    expect(page.get_by_text("What was read holds.")).to_be_visible()
    assert page.evaluate("Number(sessionStorage.taps)") <= MOST_PRESSES


def test_the_button_that_locks_does_not_move_from_under_the_finger(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    """The keypad is open, and the press on the button closes it."""
    page = sign_in(open_page(width=360, height=780, touch=True), serve(seed), "femi")
    begin_whole(page)
    page.locator("fieldset.alarm .amount input").last.tap()
    page.get_by_label("What I left empty was not read").check()
    page.locator("fieldset.alarm .amount input").last.tap()
    expect(page.get_by_role("group", name="Keypad")).to_be_visible()

    page.get_by_role("button", name="Lock this look").tap()

    expect(page.get_by_text("nothing you typed is lost")).to_be_visible()  # it was sent


def tap(page: Page, pad: Locator, alarm: str, found: Reading, *, has_unit: bool) -> None:
    if not isinstance(found, FoundOn):
        pad.get_by_role("button", name="off", exact=True).tap()
    elif found.limit is None:
        page.locator(f'input[name="{alarm}.found"][value="on"]').tap()
    else:
        for digit in show_number(found.limit):
            pad.get_by_role("button", name=digit, exact=True).tap()
        unit = "kPa" if "co2" in alarm else "°C"
        pad.get_by_role("button", name=unit if has_unit else "next", exact=True).tap()


def test_the_keypad_says_why_it_does_not_go_on(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = sign_in(open_page(width=360, height=780, touch=True), serve(seed), "femi")
    begin_whole(page)
    field = page.get_by_label("Heart rate high, /min", exact=True)
    pad = page.get_by_role("group", name="Keypad")

    field.tap()
    for key in ("9", "2", "next"):
        pad.get_by_role("button", name=key, exact=True).tap()
    expect(pad.get_by_role("status")).to_contain_text("a turnstone goes in steps of 5: 90 or 95")
    expect(field).to_be_focused()
    pad.get_by_role("button", name="up a step").tap()
    expect(field).to_have_value("95")
    pad.get_by_role("button", name="delete").tap()
    expect(field).to_have_value("9")
    page.get_by_label("What I left empty was not read").focus()
    expect(pad).to_be_hidden()


def test_a_field_that_was_tapped_before_the_script_came_has_the_keypad(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = sign_in(open_page(width=360, height=780, touch=True), serve(seed), "femi")
    late: list[Route] = []
    page.route("**/keypad.js*", lambda route: late.append(route))
    begin(page)
    field = page.get_by_label("Heart rate high, /min", exact=True)
    field.tap()
    expect(field).to_be_focused()
    pad = page.get_by_role("group", name="Keypad")
    expect(pad).to_have_count(0)

    late[0].continue_()

    expect(pad).to_be_visible()
    expect(field).to_be_focused()
    for key in ("9", "5"):
        pad.get_by_role("button", name=key, exact=True).tap()
    expect(field).to_have_value("95")


def test_a_step_begins_at_an_end_and_keeps_to_the_grid(femi: Page) -> None:
    """So that a press hints at nothing, and no slip is taken without a word."""
    field = femi.get_by_label("Heart rate high, /min", exact=True)
    up = femi.get_by_role("button", name="Heart rate high, /min: up a step")
    down = femi.get_by_role("button", name="Heart rate high, /min: down a step")

    up.click()
    expect(field).to_have_value("20")
    up.click()
    expect(field).to_have_value("25")
    down.click()
    down.click()
    expect(field).to_have_value("20")
    field.fill("")
    down.click()
    expect(field).to_have_value("250")
    field.fill("92")
    field.blur()
    expect(femi.get_by_text("a turnstone goes in steps of 5: 90 or 95")).to_be_visible()
    field.press("ArrowDown")
    expect(field).to_have_value("90")
    field.press("ArrowUp")
    expect(field).to_have_value("95")


def test_a_word_takes_the_place_of_a_number_and_a_number_that_of_a_word(femi: Page) -> None:
    field = femi.get_by_label("Heart rate high, /min", exact=True)
    instead = femi.get_by_label("Heart rate high: or else")
    why = femi.get_by_label("Heart rate high: why it could not be read")

    field.fill("90")
    instead.select_option("could-not-read")
    expect(field).to_have_value("")
    expect(why).to_be_visible()
    field.fill("90")
    expect(instead).to_have_value("")
    expect(why).to_be_hidden()


def test_the_back_button_leads_to_what_comes_next(femi: Page) -> None:
    """The page of a locked look is not kept anywhere, so nothing typed before comes back."""
    femi.get_by_label("Heart rate high, /min", exact=True).fill("95")
    femi.get_by_label("What I left empty was not read").check()
    femi.get_by_role("button", name="Lock this look").click()
    expect(femi.get_by_text("Look again: 3 alarms.")).to_be_visible()

    femi.go_back()

    expect(femi.get_by_text("Look again: 3 alarms.")).to_be_visible()
    typed = femi.evaluate("[...document.querySelectorAll('input')].map((input) => input.value)")
    assert typed
    assert "95" not in typed
