"""An administrator looks at the service itself: what it is, the last backup, the proven ledger."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.actions.backups import tell_backup
from app.domain.people import Role
from app.main import wall_clock
from tests.builders import a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in


def seed(tx: Session) -> None:
    a_signed_revision(tx)
    a_person(tx, Role.ADMINISTRATOR)
    tell_backup(tx, name="b.zip", sha256="0" * 64, now=wall_clock())


@pytest.mark.parametrize(("width", "theme"), [(1280, "day"), (360, "night")])
def test_the_ledger_is_proven_by_keyboard(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str
) -> None:
    ada = sign_in(open_page(width=width, theme=theme), serve(seed), "ada")

    ada.get_by_role("link", name="Installation").click()
    expect(ada.get_by_role("heading", name="Installation")).to_be_visible()
    expect(ada.get_by_text("Make one every night")).to_have_count(0)
    assert axe(ada) == []
    assert not overflows(ada)

    ada.get_by_role("button", name="Prove the ledger now").focus()
    ada.keyboard.press("Enter")

    expect(ada.get_by_text("The ledger holds.")).to_be_visible()
    assert axe(ada) == []
    assert not overflows(ada)
