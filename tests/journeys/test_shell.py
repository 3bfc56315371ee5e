"""What the frame around every page does in a real browser."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import PASSWORD, a_person
from tests.journeys.conftest import Seed, axe, overflows

OPEN_PAGES = (
    "/",
    "/sign-in",
    "/nowhere",
    "/help/",
    "/help/words",
    "/help/caution",
    "/help/rules",
    "/help/bounds",
    "/help/ranges",
    "/help/look",
    "/help/hazards",
    "/help/security",
    "/help/operation",
)


def seed(tx: Session) -> None:
    a_person(tx, Role.ADMINISTRATOR)


def signed_in(page: Page, address: str) -> Page:
    page.goto(f"{address}/sign-in?next=/skerry/people")
    page.get_by_label("Username").fill("ada")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Invite a person").wait_for()
    page.wait_for_load_state()
    return page


@pytest.mark.parametrize("theme", ["day", "night"])
@pytest.mark.parametrize("width", [1280, 320])
def test_every_open_page_can_be_used_by_everybody(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str
) -> None:
    address = serve(seed)
    page = open_page(width=width, theme=theme)

    for path in OPEN_PAGES:
        page.goto(address + path)
        assert axe(page) == [], path
        assert not overflows(page), path


def test_the_light_changes_at_once_keeps_what_is_typed_and_is_remembered(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = signed_in(open_page(), serve(seed))
    page.get_by_label("Username").fill("half a na")

    with page.expect_response("**/theme"):
        page.get_by_role("button", name="night").click()

    expect(page.locator("html")).to_have_attribute("data-theme", "night")
    expect(page.get_by_role("button", name="night")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_label("Username")).to_have_value("half a na")
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-theme", "night")


def test_the_light_changes_without_script_and_one_stays_on_the_page(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = open_page(javascript=False)
    page.goto(f"{address}/help/words")

    page.get_by_role("button", name="night").click()

    expect(page.locator("html")).to_have_attribute("data-theme", "night")
    expect(page).to_have_url(f"{address}/help/words")


def test_a_second_tap_sends_nothing_twice(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = signed_in(open_page(), serve(seed))
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method))
    page.get_by_label("Name", exact=True).fill("Femi")
    page.get_by_label("Username").fill("femi")
    page.get_by_label("fleet manager").check()

    page.get_by_role("button", name="Invite").dblclick()

    page.get_by_text("Femi sets the password by this link.").wait_for()
    assert sent.count("POST") == 1


def by_htmx(page: Page, path: str) -> None:
    """As a piece of a page would: its place in the page is not to be touched."""
    page.evaluate(
        "path => { const place = document.querySelector('h1');"
        " place.setAttribute('hx-get', path); htmx.process(place); place.click(); }",
        path,
    )


@pytest.mark.parametrize("kind", ["missing", "broken", "offline"])
def test_what_goes_wrong_with_a_piece_of_a_page_is_told_above_it(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], kind: str
) -> None:
    page = signed_in(open_page(failures=True), serve(seed))
    answers: dict[str, tuple[str, Callable[[Route], None]]] = {
        "missing": ("There is no such page.", lambda route: route.continue_()),
        "broken": (
            "the fault is ours",
            lambda route: route.fulfill(
                status=500,
                body="<p>Something failed here; the fault is ours.</p>",
                headers={"HX-Retarget": "#told", "HX-Reswap": "innerHTML"},
            ),
        ),
        "offline": ("No connection.", lambda route: route.abort()),
    }
    words, answer = answers[kind]
    page.route("**/nowhere/at/all", answer)

    by_htmx(page, "/nowhere/at/all")

    expect(page.locator("#told")).to_contain_text(words)
    expect(page.get_by_role("heading", level=1)).to_have_text("People")
    assert axe(page) == []


def test_the_keyboard_alone_is_enough(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = signed_in(open_page(), serve(seed))

    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to content")
    expect(skip).to_be_focused()
    assert skip.bounding_box() is not None
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("#"))
    page.keyboard.press("Tab")

    expect(page.locator("main :focus")).to_have_count(1)
