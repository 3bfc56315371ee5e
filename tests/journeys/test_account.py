"""Dana finds a session that she does not know, ends it, and changes her password."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import PASSWORD, a_person
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.keyboard import Keyboard
from tests.journeys.readers import sign_in


def seed(tx: Session) -> None:
    a_person(tx, Role.MEDICAL_DIRECTOR)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "night"), (360, True, "day"), (360, False, "day")],
)
def test_a_session_is_ended_and_the_password_changed(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    elsewhere = sign_in(open_page(), address, "dana")
    page = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")

    page.get_by_role("link", name="Dana, your account").click()
    expect(page.get_by_role("heading", name="Where you are signed in")).to_be_visible()
    assert not javascript or axe(page) == []
    assert not javascript or not overflows(page)
    page.get_by_label("Your password, to end a session").fill(PASSWORD)
    page.get_by_role("button", name="End the session of").click()
    expect(page.get_by_text("That session is ended.")).to_be_visible()
    elsewhere.goto(f"{address}/skerry/account")
    expect(elsewhere.get_by_role("heading", name="Sign in")).to_be_visible()

    keys = Keyboard(page)
    keys.write("Your password now", PASSWORD)
    keys.write("New password", "sunshine sunshine")
    keys.push("Change it")
    expect(page.get_by_text("many people use this one")).to_be_visible()
    assert not javascript or axe(page) == []
    keys.write("Your password now", PASSWORD)
    keys.write("New password", "a lantern on the north pier")
    keys.push("Change it")
    expect(page.get_by_text("Your password is changed.")).to_be_visible()
