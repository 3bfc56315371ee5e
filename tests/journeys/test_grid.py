"""A draft is written in its grid by keyboard alone: typed, undone, copied, never overwritten."""

from collections.abc import Callable

from playwright.sync_api import Locator, Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import a_document, a_draft, a_person
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

BLANK = ("heart-rate-low", "heart-rate-high", "pulse-rate-low", "pulse-rate-high", "spo2-low")


def seed(tx: Session) -> None:
    document = a_document()
    for alarm in BLANK:
        del document["settings"]["infant"][alarm]
    a_draft(tx, document=document)
    a_person(tx, Role.MEDICAL_DIRECTOR)


def draft(page: Page, address: str, username: str = "anna") -> Page:
    sign_in(page, address, username)
    page.goto(f"{address}/skerry/policy/1")
    return page


def cell(page: Page, category: str, alarm: str) -> Locator:
    return page.locator(f"#cell-{category}-{alarm}")


def value(page: Page, category: str, alarm: str) -> Locator:
    return cell(page, category, alarm).locator("a.value")


def test_a_category_is_filled_by_keyboard_alone(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = draft(open_page(), serve(seed))
    blanks, keys = page.locator("#blanks"), page.keyboard
    expect(blanks).to_contain_text("5 cells have blanks that must be filled")
    expect(page.locator("#blank-count")).to_contain_text("5 cells have blanks")
    expect(page.get_by_role("grid")).to_be_visible()
    expect(page.locator("table.grid a.value[tabindex='0']")).to_have_count(1)
    box = page.locator(".grid-box")
    assert box.evaluate("box => box.scrollWidth <= box.clientWidth")
    assert not overflows(page)

    # From the first cell to the first blank, then down the category; she types ahead of answers.
    value(page, "neonate", "heart-rate-low").focus()
    keys.press("b")
    expect(value(page, "infant", "heart-rate-low")).to_be_focused()
    for typed in ("90 m 5s nolat", "180 m 5s nolat", "np", "np", "91"):
        keys.type(typed)
        keys.press("Enter")
    expect(value(page, "infant", "spo2-low")).to_contain_text("below 91 %")
    expect(value(page, "infant", "heart-rate-high")).to_contain_text("above 180 /min")
    expect(value(page, "infant", "pulse-rate-low")).to_contain_text("no policy")
    expect(cell(page, "infant", "spo2-low")).to_contain_text("no priority, no delay, no latching")
    expect(blanks).to_contain_text("3 cells have blanks; 1 of them must be filled")
    expect(page.locator("#said")).to_contain_text("Saved: Infant, SpO₂ low.")
    expect(page.locator("#corridor text.limit", has_text="180")).not_to_have_count(0)
    expect(value(page, "infant", "spo2-high")).to_be_focused()
    assert axe(page) == []

    # What is not understood stays in its cell with words; Escape gives up, and all is as it was.
    keys.press("ArrowUp")
    keys.type("9o")
    keys.press("Enter")
    typed_in = cell(page, "infant", "spo2-low").get_by_role("textbox")
    expect(cell(page, "infant", "spo2-low").get_by_role("alert")).to_contain_text("not understood")
    expect(typed_in).to_be_focused()
    expect(typed_in).to_have_value("9o")
    assert axe(page) == []
    keys.press("Escape")
    expect(value(page, "infant", "spo2-low")).to_be_focused()
    expect(value(page, "infant", "spo2-low")).to_contain_text("below 91 %")

    # Undone twice, and once more done; the cell keeps the focus.
    keys.press("Control+z")
    expect(value(page, "infant", "spo2-low")).to_contain_text("blank")
    keys.press("Control+z")
    expect(value(page, "infant", "pulse-rate-high")).to_contain_text("blank")
    keys.press("Control+y")
    expect(value(page, "infant", "pulse-rate-high")).to_contain_text("no policy")
    expect(value(page, "infant", "spo2-low")).to_contain_text("blank")
    expect(value(page, "infant", "spo2-low")).to_be_focused()

    # The form of the whole cell, closed again; from there to copying into this one cell.
    keys.press("F2")
    expect(page.get_by_role("heading", name="Infant, SpO₂ low")).to_be_focused()
    keys.press("Escape")
    expect(value(page, "infant", "spo2-low")).to_be_focused()
    keys.press("Enter")
    page.get_by_role("link", name="Copy from another category or revision…").press("Enter")
    page.get_by_label("Its category").select_option("neonate")
    page.get_by_role("button", name="Show what it would do").press("Enter")
    expect(page.get_by_text("1 cell: 1 filled.")).to_be_visible()
    assert axe(page) == []
    assert not overflows(page)
    page.get_by_role("button", name="Copy 1 cell into Infant").press("Enter")
    expect(value(page, "infant", "spo2-low")).to_contain_text("below 89 %")
    expect(page.locator("#told")).to_contain_text("Copied into Infant.")
    expect(page.locator("#blanks")).to_contain_text("2 cells without a reason or source.")


def test_tab_goes_right_and_delete_leaves_blank(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = draft(open_page(), serve(seed))
    keys = page.keyboard
    value(page, "preschool", "heart-rate-low").focus()

    keys.type("74")
    keys.press("Tab")
    keys.type("59")
    keys.press("Shift+Tab")
    expect(value(page, "preschool", "heart-rate-low")).to_contain_text("below 74 /min")
    expect(value(page, "school", "heart-rate-low")).to_contain_text("below 59 /min")
    expect(value(page, "preschool", "heart-rate-low")).to_be_focused()
    keys.press("Delete")
    expect(value(page, "preschool", "heart-rate-low")).to_contain_text("blank")
    page.get_by_role("button", name="Undo the last change").press("Enter")

    expect(value(page, "preschool", "heart-rate-low")).to_contain_text("below 74 /min")


def test_a_moved_wall_is_undone_by_the_same_key(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = draft(open_page(), serve(seed))
    page.get_by_label("Or write an age").fill("3 y")
    page.get_by_role("button", name="Go").click()
    expect(page.get_by_role("heading", name="At 3 y")).to_be_visible()
    page.get_by_role("button", name="Heart rate high: one step down").press("Enter")
    expect(value(page, "preschool", "heart-rate-high")).to_contain_text("above 169 /min")

    page.keyboard.press("Control+z")

    expect(value(page, "preschool", "heart-rate-high")).to_contain_text("above 170 /min")


def test_what_is_typed_without_a_connection_stays_until_it_is_sent(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = draft(open_page(failures=True), serve(seed))
    page.route("**/typed", lambda route: route.abort())
    value(page, "adult", "heart-rate-low").focus()
    page.keyboard.type("48")
    page.keyboard.press("Enter")
    typed_in = cell(page, "adult", "heart-rate-low").get_by_role("textbox")
    expect(cell(page, "adult", "heart-rate-low")).to_contain_text("No connection.")
    expect(typed_in).to_have_value("48")
    expect(typed_in).to_be_focused()

    page.unroute("**/typed")
    page.keyboard.press("Enter")

    expect(value(page, "adult", "heart-rate-low")).to_contain_text("below 48 /min")


def test_what_is_typed_over_somebody_elses_change_is_not_lost(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    anna = draft(open_page(), address)
    dana = draft(open_page(), address, "dana")
    value(dana, "adult", "heart-rate-low").focus()
    dana.keyboard.type("46")
    dana.keyboard.press("Enter")
    expect(value(dana, "adult", "heart-rate-low")).to_contain_text("below 46 /min")

    value(anna, "adult", "heart-rate-low").focus()
    for typed in ("48", "135"):
        anna.keyboard.type(typed)
        anna.keyboard.press("Enter")

    place = anna.locator("#cell-place")
    expect(place.get_by_role("alert")).to_contain_text("You typed “48”.")
    expect(value(anna, "adult", "heart-rate-low")).to_contain_text("below 46 /min")
    ahead = cell(anna, "adult", "heart-rate-high").get_by_role("textbox")
    expect(ahead).to_have_value("135")
    place.get_by_role("button", name="Save mine").press("Enter")
    expect(value(anna, "adult", "heart-rate-low")).to_contain_text("below 48 /min")
    ahead.press("Enter")
    expect(value(anna, "adult", "heart-rate-high")).to_contain_text("above 135 /min")


def test_what_is_typed_just_after_somebody_elses_change_came_is_not_lost(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    """Before anybody can have looked at it."""
    address = serve(seed)
    anna = draft(open_page(), address)
    dana = draft(open_page(), address, "dana")
    value(dana, "adult", "heart-rate-low").focus()
    dana.keyboard.type("46")
    dana.keyboard.press("Enter")
    expect(value(dana, "adult", "heart-rate-low")).to_contain_text("below 46 /min")

    value(anna, "adult", "heart-rate-low").focus()
    anna.keyboard.type("48")
    anna.keyboard.press("Enter")
    place = anna.locator("#cell-place")
    expect(place.get_by_role("alert")).to_contain_text("You typed “48”.")
    expect(place.locator(".htmx-added")).to_have_count(0)
    anna.keyboard.type("135")
    anna.keyboard.press("Enter")

    ahead = cell(anna, "adult", "heart-rate-high").get_by_role("textbox")
    expect(ahead).to_have_value("135")
    expect(ahead).to_be_focused()
    anna.keyboard.press("Enter")
    expect(value(anna, "adult", "heart-rate-high")).to_contain_text("above 135 /min")


def test_on_a_phone_the_grid_is_panned_and_a_cell_is_set_by_its_form(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = draft(open_page(width=360, theme="night"), serve(seed))
    assert not overflows(page)

    value(page, "infant", "spo2-low").click()
    page.get_by_label("on", exact=True).check()
    page.get_by_label("Alarm below, %").fill("90")
    page.get_by_role("button", name="Save").click()

    expect(value(page, "infant", "spo2-low")).to_contain_text("below 90 %")
    expect(value(page, "infant", "spo2-low")).to_be_focused()
    assert axe(page) == []
