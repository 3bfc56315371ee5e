"""The clock of the service goes back, as after a failed battery or a wrong time server."""

from datetime import timedelta
from pathlib import Path

import pytest

from app.actions.reports import record_report
from app.domain.errors import NotNow, Refused
from app.domain.people import Role
from app.lookups.ledger import prove_agency
from app.lookups.revisions import in_force
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    a_device,
    a_document,
    a_new_report,
    a_person,
    a_report,
    a_signed_revision,
    an_agency,
)
from tests.web.visits import Visits

STRICTER = a_document({"heart-rate-high": 165})


def test_a_revision_signed_while_the_clock_is_behind_would_not_hold_so_it_is_refused(
    database: Database,
) -> None:
    """Otherwise the older one would come into force after it, and crews would see that one."""
    with database.writing() as tx:
        a_signed_revision(tx, now=NOW)

    with pytest.raises(NotNow, match="clock of this service is behind"), database.writing() as tx:
        a_signed_revision(tx, document=STRICTER, now=NOW - timedelta(seconds=1))

    with database.writing() as tx:
        again = a_signed_revision(tx, document=STRICTER, now=NOW)
    with database.reading() as tx:
        held = in_force(tx, agency_id=an_agency(tx).id, at=NOW)
        assert held is not None
        assert held.number == again.number


def test_the_ledger_holds_whatever_the_clock_says(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        a_report(tx, read_at=NOW + DAY)

    with database.writing() as tx:
        late = a_report(tx, read_at=NOW)

    with database.reading() as tx:
        assert prove_agency(tx, agency="skerry").holds
    assert late.read_at == NOW


def test_a_reading_from_the_future_is_refused_in_words(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        femi = a_person(tx, Role.FLEET_MANAGER)
    report = a_new_report(read_at=NOW + HOUR)

    with pytest.raises(Refused, match="still to come"), sqlite_database.writing() as tx:
        record_report(tx, report=report, by=femi, now=NOW)


def test_people_stay_signed_in_and_are_told_that_nothing_is_in_force_yet(
    sqlite_database: Database, tmp_path: Path
) -> None:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    cruz = visits.of(Role.CREW)

    visits.wait(-DAY)

    assert cruz.get("/skerry/").status_code == 200
    page = cruz.get("/skerry/limits?age=3+y").text
    assert "No policy is in force" in page
    assert "alarm below" not in page
