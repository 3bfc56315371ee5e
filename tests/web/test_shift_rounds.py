"""The list of devices that want their shift check, a page at a time."""

from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlmodel import Session

from app.domain.people import Role
from app.storage.database import Database
from app.storage.devices import DeviceRow
from app.web.shift_rounds import MOST_ROWS
from tests.builders import NOW, a_signed_revision, an_agency
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(_many)
    return found


def _many(tx: Session) -> None:
    fixed = {"agency_id": an_agency(tx).id, "model": "dunlin", "station": "N", "created_at": NOW}
    rows = [fixed | {"tag": f"kit-{number:03}"} for number in range(MOST_ROWS + 1)]
    tx.execute(sa.insert(DeviceRow), rows)


def test_a_large_fleet_is_turned_over(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    first, last = femi.get("/skerry/checks").text, femi.get("/skerry/checks?page=2").text

    assert f"these are 1 to {MOST_ROWS} of {MOST_ROWS + 1}" in first
    assert 'href="?page=2">The next</a>' in first
    assert first.count('<th scope="row">') == MOST_ROWS
    assert last.count('<th scope="row">') == 1
    assert f"kit-{MOST_ROWS:03}</a>" in last
    assert 'href="?page=1">Those before</a>' in last


def test_beyond_the_last_page_stands_the_last(visits: Visits) -> None:
    page = visits.of(Role.FLEET_MANAGER).get("/skerry/checks?page=9").text

    assert f"these are {MOST_ROWS + 1} to {MOST_ROWS + 1} of {MOST_ROWS + 1}" in page
