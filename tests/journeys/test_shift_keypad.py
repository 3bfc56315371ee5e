"""A whole shift check with one finger on the keypad: its taps, its refusals, its time."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Locator, Page, expect

from app.domain.shift_questions import QUESTIONS
from tests.builders import PRESET
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import ASKS_WHO, SIGNED, lock, ready, seed, taken, until
from tests.published.keystrokes import shift_check
from tests.published.test_shift_time import LONGEST_S

Serve = Callable[[Seed], str]
Open = Callable[..., Page]
COUNT = """() => {
  sessionStorage.taps = sessionStorage.taps || 0;
  const count = () => { sessionStorage.taps = Number(sessionStorage.taps) + 1; };
  document.addEventListener("pointerdown", count, true);
}"""
ORDER = (
    "heart-rate-low",
    "heart-rate-high",
    "spo2-low",
    "spo2-high",
    "respiratory-rate-low",
    "apnoea",
)


def typed(page: Page) -> list[tuple[str, str]]:
    """The alarms in the order of the form, and what a finger enters."""
    values = SIGNED | {"spo2-high": "off"}
    names = page.locator("fieldset.alarm .amount input").evaluate_all(
        "all => all.map((one) => one.name)"
    )
    assert sorted(names) == sorted(ORDER)
    return [(name, values[name]) for name in names]


def pad_of(page: Page) -> Locator:
    return page.get_by_role("group", name="Keypad")


def press(page: Page, value: str) -> None:
    keys = ["off"] if value == "off" else [*value, "next"]
    for key in keys:
        pad_of(page).get_by_role("button", name=key, exact=True).tap()


@pytest.mark.parametrize("offline", [False, True], ids=["with signal", "without"])
def test_one_finger_makes_a_whole_check_within_ninety_seconds(
    serve: Serve, open_page: Open, sqlite_url: str, offline: bool
) -> None:
    address = serve(seed)
    phone = open_page(width=360, height=780, touch=True, failures=True)
    phone.add_init_script(f"({COUNT})()")
    page = sign_in(phone, address, "cruz")
    ready(page, address)
    page.goto(f"{address}/skerry/d/boat-3")
    page.context.set_offline(offline)
    page.evaluate("() => { sessionStorage.taps = 0; }")

    page.get_by_role("link", name="Shift check", exact=True).tap()
    expect(page.locator("form.shift")).to_be_visible()
    page.wait_for_function("() => globalThis.MarchstoneQueue")
    if offline:
        until(page, ASKS_WHO)
        expect(page.locator("#checker")).to_be_visible()
    page.locator(f'label.pick:has(input[name=preset][value="{PRESET}"])').tap()
    page.locator('label.pick:has(input[name=state_read][value="power-on"])').tap()
    values = typed(page)
    page.locator(f"#{values[0][0]}").tap()
    for name, value in values:
        expect(page.locator(f"#{name}")).to_be_focused()
        press(page, value)
    expect(page.locator(f"input[name={QUESTIONS[0].value}]").first).to_be_focused()
    for question in QUESTIONS:
        page.locator(f'label.pick:has(input[name={question.value}][value="yes"])').tap()
    if offline:
        page.locator("#checker label.pick").first.tap()
    page.get_by_role("button", name="Lock this check").tap()
    expect(page.locator("#locked .notice" if offline else "#brought")).to_be_visible()

    work = shift_check([value for _, value in values], len(QUESTIONS), who=offline)
    assert page.evaluate("Number(sessionStorage.taps)") == work.keys + work.choices
    assert work.seconds <= LONGEST_S
    if offline:
        page.context.set_offline(False)
        # In the queue, or on the check's own page where the first try was still under way.
        told = re.compile("what you read holds the policy", re.IGNORECASE)
        expect(page.locator("main")).to_contain_text(told)
    assert len(taken(sqlite_url)) == 1


def test_the_keypad_says_why_it_does_not_go_on_in_the_words_of_the_reading(
    serve: Serve, open_page: Open
) -> None:
    page = sign_in(open_page(width=360, height=780, touch=True), serve(seed), "cruz")
    page.goto(f"{page.url.split('/skerry')[0]}/skerry/check?device=boat-3")
    field = page.locator("#heart-rate-high")

    field.tap()
    for key in ("9", "9", "9", "9", "next"):
        pad_of(page).get_by_role("button", name=key, exact=True).tap()

    expect(pad_of(page).get_by_role("status")).to_contain_text("this alarm goes from")
    expect(field).to_be_focused()
    assert axe(page) == []
    assert not overflows(page)
    pad_of(page).get_by_role("button", name="next", exact=True).tap()
    expect(field).not_to_be_focused()
    lock(page)
    expect(page.locator("fieldset.alarm:has(#heart-rate-high) .amiss-words")).to_contain_text(
        "look again"
    )
