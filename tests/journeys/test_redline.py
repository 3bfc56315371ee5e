"""Anna's draft opens a silence; Dana reads the redline, on a desk and on a phone, and prints it."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import a_device, a_document, a_draft, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in


def seed(tx: Session) -> None:
    a_signed_revision(tx)
    a_signed_revision(tx, document=a_document({"heart-rate-high": 165}))
    a_draft(tx, document=a_document({"heart-rate-high": 185, "spo2-low": 92}))
    a_device(tx)
    a_person(tx, Role.MEDICAL_DIRECTOR)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (360, False, "day")],
)
def test_any_two_revisions_are_held_against_each_other(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")

    # The page of the revision shows the gravest and leads on.
    page.goto(f"{address}/skerry/policy/3")
    expect(page.locator("#redline")).to_contain_text("can rise from 165 to 185 /min unannounced")
    page.get_by_role("link", name="Redline: every change").click()
    expect(page.get_by_role("heading", name="Opens a silence")).to_be_visible()
    expect(page.get_by_text("Now silent: 181 to 185 /min at 1 y to 5 y")).to_be_visible()
    expect(page.get_by_text("1 device must be set again.")).to_be_visible()
    look_at(page, javascript=javascript)

    # Against the older one there is another "before".
    page.get_by_label("Compare against").select_option("1")
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_text("can rise from 170 to 185 /min unannounced")).to_be_visible()
    look_at(page, javascript=javascript)

    # Printed, it is whole and needs nothing that can be pressed.
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Compare")).to_be_hidden()
    expect(page.locator(".redline-drawing").first).to_be_visible()

    page.emulate_media(media="screen")
    page.get_by_role("link", name="boat-3").click()
    expect(page.get_by_role("heading", name="boat-3")).to_be_visible()


def look_at(page: Page, *, javascript: bool) -> None:
    assert not javascript or axe(page) == []
    assert not javascript or not overflows(page)
