"""Femi looks at a file so long that it is read beside the pages, takes it in, and watches."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

import app.actions.long_work as long_work
from app.domain.people import Role
from app.jobs.worker import do_all
from app.main import wall_clock
from app.storage.database import Database
from tests.builders import DAY, a_device, a_person, a_signed_revision, as_signed, limit
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.reading_files import HEADER, a_whole_file

FILE = a_whole_file(as_signed(heart_rate_high=limit(200)))


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - DAY)
    a_device(tx)
    a_person(tx, Role.FLEET_MANAGER)


@pytest.mark.parametrize(
    ("width", "theme"), [(1280, "day"), (1280, "night"), (360, "day"), (320, "night")]
)
def test_a_long_file_is_watched_until_it_is_done(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    sqlite_url: str,
    width: int,
    theme: str,
) -> None:
    monkeypatch.setattr(long_work, "LARGEST_AT_ONCE", len(HEADER))
    address = serve(seed)
    femi = sign_in(open_page(width=width, theme=theme), address, "femi")
    (tmp_path / "round.csv").write_bytes(FILE)

    def look() -> None:
        assert axe(femi) == []
        assert not overflows(femi)

    femi.goto(f"{address}/skerry/fleet/readings")
    femi.get_by_label("File").set_input_files(tmp_path / "round.csv")
    femi.get_by_role("button", name="Look at it").click()
    expect(femi.get_by_role("heading", level=1)).to_have_text(
        "Looking at a file of readings, round.csv"
    )
    expect(femi.get_by_text("Waiting for its turn")).to_be_visible()
    look()

    # Looked at by another process; the page tells by itself, and leads on.
    database = Database(sqlite_url)
    do_all(database, clock=wall_clock)
    expect(femi.get_by_text("1 new reports with 12 readings of 1 devices.")).to_be_visible()
    look()
    femi.get_by_role("link", name="See what it would change").click()
    expect(femi.get_by_role("heading", level=1)).to_have_text("What round.csv would change")
    look()
    femi.get_by_role("button", name="Take the whole file").click()
    expect(femi.get_by_role("heading", level=1)).to_have_text(
        "Taking in a file of readings, round.csv"
    )
    expect(femi.get_by_text("Waiting for its turn")).to_be_visible()
    look()

    # By keyboard, and it stays the same page.
    femi.get_by_role("link", name="Look again").focus()
    femi.keyboard.press("Enter")
    expect(femi.get_by_role("link", name="Look again")).to_be_visible()

    # Done by another process; the page tells by itself.
    do_all(database, clock=wall_clock)
    database.dispose()
    expect(femi.get_by_text("1 reports with 12 readings were taken in.")).to_be_visible()
    look()
    femi.get_by_role("link", name="Long work").click()
    expect(femi.get_by_role("row")).to_have_count(3)
    look()
    femi.get_by_role("link", name="Taking in a file of readings, round.csv").click()
    femi.get_by_role("link", name="To the fleet").click()
    expect(femi.get_by_role("heading", level=1)).to_be_visible()
