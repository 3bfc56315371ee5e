"""The walls of the age corridor in a real browser: by key, by hand, and without a script."""

import json
from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import CDPSession, Locator, Page, expect
from sqlmodel import Session

from app.main import wall_clock
from tests.builders import a_document, a_draft, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

DRAFT = "/skerry/policy/2"
GRIP = "#grip-preschool-heart-rate-high"


def seed(tx: Session) -> None:
    """Every model can be set to every fifth beat."""
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    fives = {"from": 30, "to": 250, "step": 5}
    models = {"dunlin": {"grid": {"heart-rate-high": fives, "heart-rate-low": fives}}}
    a_draft(tx, document=a_document({"heart-rate-high": 185}) | {"models": models})


def at_the_desk(page: Page, address: str, query: str = "?age=3+y") -> Page:
    sign_in(page, address, "anna")
    page.goto(f"{address}{DRAFT}{query}")
    return page


def held(page: Page, alarm: str = "heart-rate-high") -> object:
    """What the server keeps, as it would be downloaded."""
    answer = page.request.get(page.url.partition("?")[0] + "/profile.json")
    return json.loads(answer.text())["settings"]["preschool"][alarm]["limit"]


def stop_clock(page: Page, *, days: int) -> None:
    """A wall that rests for a moment is kept by itself, and a test may be slower than that."""
    page.clock.pause_at(wall_clock() + timedelta(days=days))


def value(grip: Locator) -> str | None:
    return grip.get_attribute("aria-valuetext")


def test_a_wall_moves_by_keyboard_on_the_step_of_the_devices(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page()
    page.clock.install()
    at_the_desk(page, serve(seed))
    grip = page.locator(GRIP)

    stop_clock(page, days=1)
    grip.press("ArrowDown")
    grip.press("ArrowDown")
    expect(grip).to_have_attribute("aria-valuetext", "175 /min")
    assert held(page) == 185
    page.clock.resume()
    grip.press("Enter")

    expect(page.locator("#said")).to_contain_text("Heart rate high is now 175.")
    expect(page.locator("#findings li.unsafe")).to_have_count(0)
    expect(page.locator("#strip")).to_contain_text("above 175 /min")
    expect(grip).to_be_focused()
    assert held(page) == 175
    stop_clock(page, days=2)
    grip.press("PageUp")
    expect(grip).to_have_attribute("aria-valuetext", "225 /min")
    grip.press("Escape")
    expect(grip).to_have_attribute("aria-valuetext", "175 /min")
    page.clock.resume()
    grip.press("ArrowUp")  # and after a pause it is kept by itself
    expect(page.locator("#said")).to_contain_text("Heart rate high is now 180.")
    assert held(page) == 180


def test_tab_reaches_the_walls_and_arrows_their_neighbours(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(), serve(seed))
    page.locator(".corridor-box").focus()

    first = focused_grip(page, "Tab")
    second = focused_grip(page, "ArrowRight")
    page.keyboard.press("Tab")
    back = focused_grip(page, "Shift+Tab")

    assert first != second
    assert back == second


def focused_grip(page: Page, key: str) -> str | None:
    """What has the focus after that key, which must be a wall."""
    page.keyboard.press(key)
    grip = page.locator("[id^='grip-']:focus")
    expect(grip).to_have_count(1)
    return grip.get_attribute("id")


def test_a_wall_is_dragged_and_kept_when_it_is_let_go(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(), serve(seed))
    grip = page.locator(GRIP)
    grip.scroll_into_view_if_needed()
    drag(page, grip, by=12)
    expect(grip).not_to_have_attribute("aria-valuetext", "185 /min")
    moved = value(grip)
    assert moved is not None
    assert int(moved.split()[0]) % 5 == 0
    assert int(moved.split()[0]) < 185
    assert held(page) == 185

    page.mouse.up()

    expect(page.locator("#said")).to_contain_text(f"is now {moved.split()[0]}.")
    expect(page.locator(f"#lane-heart-rate {GRIP}")).to_have_attribute("aria-valuetext", moved)
    assert held(page) == int(moved.split()[0])


def test_a_drag_that_is_given_up_changes_nothing(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(), serve(seed))
    grip = page.locator(GRIP)
    drag(page, grip, by=20)

    page.keyboard.press("Escape")
    page.mouse.up()

    assert value(grip) == "185 /min"
    assert held(page) == 185


def drag(page: Page, grip: Locator, *, by: float) -> None:
    """The button stays down."""
    box = grip.locator(".reach").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 4, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + by / 2)
    page.mouse.move(x, y + by)


def test_a_finger_takes_along_only_a_wall_that_it_has_tapped(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(width=360), serve(seed))
    fingers = page.context.new_cdp_session(page)
    fingers.send("Emulation.setTouchEmulationEnabled", {"enabled": True})
    grip = page.locator(GRIP)
    grip.scroll_into_view_if_needed()

    swipe(fingers, grip, by=14)
    assert value(grip) == "185 /min"
    swipe(fingers, grip, by=0)
    expect(grip).to_be_focused()
    swipe(fingers, grip, by=14)

    expect(page.locator("#said")).to_contain_text("Heart rate high is now")
    limit = held(page)
    assert isinstance(limit, int)
    assert limit < 185
    assert limit % 5 == 0


def swipe(fingers: CDPSession, grip: Locator, *, by: float) -> None:
    box = grip.locator(".reach").bounding_box()
    assert box is not None
    x, y = max(box["x"], 0) + 40, box["y"] + box["height"] / 2
    for kind, points in (
        ("touchStart", [{"x": x, "y": y}]),
        *(("touchMove", [{"x": x, "y": y + by * part / 4}]) for part in range(1, 5) if by),
        ("touchEnd", []),
    ):
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_a_wall_that_somebody_else_moved_is_shown_as_it_stands(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    one, other = (at_the_desk(open_page(), address) for _ in range(2))
    other.locator(GRIP).press("ArrowDown")
    other.locator(GRIP).press("Enter")
    expect(other.locator("#said")).to_contain_text("is now 180.")

    one.locator(GRIP).press("PageDown")
    one.locator(GRIP).press("Enter")

    expect(one.locator("#said")).to_contain_text("Nothing was moved; this is how it stands now.")
    expect(one.locator(GRIP)).to_have_attribute("aria-valuetext", "180 /min")
    assert held(one) == 180


def test_without_script_buttons_move_the_wall(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(javascript=False), serve(seed))
    expect(page.locator("#grip-hint")).to_be_hidden()

    page.get_by_role("button", name="Heart rate high: one step down").click()

    expect(page.locator("#strip")).to_contain_text("above 180 /min")
    assert held(page) == 180


@pytest.mark.parametrize(
    ("width", "theme"), [(1280, "day"), (1280, "night"), (360, "day"), (320, "night")]
)
@pytest.mark.parametrize("path", ["?age=3+y&sources=1", "/corridor"])
def test_sources_and_table_break_nothing(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str, path: str
) -> None:
    page = at_the_desk(open_page(width=width, theme=theme), serve(seed), path)

    assert axe(page) == []
    assert not overflows(page)


def test_the_sources_follow_the_age_in_hand(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = at_the_desk(open_page(), serve(seed))
    page.get_by_role("link", name="Show every source’s bounds").click()
    expect(page.locator("#sources-at")).to_contain_text("What they say at 3 y")

    page.locator("#at").press("Home")

    expect(page.locator("#sources-at")).to_contain_text("What they say at birth")
    page.get_by_role("link", name="Hide the sources").click()
    expect(page.locator("#sources-at")).to_have_count(0)
    expect(page.get_by_role("heading", name="At birth")).to_be_visible()
