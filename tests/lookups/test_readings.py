import pytest

from app.domain.errors import NotFound
from app.domain.reading_sessions import ReadingStatus
from app.lookups.readings import (
    is_device,
    reading,
    reading_of_report,
    reading_start,
    wanted_looks,
)
from app.storage.database import Database
from tests.actions.test_readings import TIGHT, begun, look, ready
from tests.builders import DAY, MINUTE, NOW, PRESET, a_device, a_person, a_report, olu


def test_it_names_the_presets_and_nothing_of_what_is_signed(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = begun(tx)
        agency = a_person(tx).agency_id
        start = reading_start(tx, agency_id=agency, tag="boat-3", now=NOW)
        page = reading(tx, agency_id=agency, number=session.id, now=NOW)

    assert start.presets == ("neonate", "infant", PRESET, "school", "adult")
    assert [one.id for one in start.waiting] == [session.id]
    for signed in ("170", "agreed by the clinical group"):
        assert signed not in repr((start, page))


def test_without_a_policy_no_preset_is_named(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        start = reading_start(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW)

    assert start.presets == ()


def test_a_second_look_is_wanted_for_a_day(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
        begun(tx, now=NOW + MINUTE)  # a first look is nobody else's
        agency = a_person(tx).agency_id

        assert [one.id for one in wanted_looks(tx, agency_id=agency, now=NOW + DAY)] == [session.id]
        assert wanted_looks(tx, agency_id=agency, now=NOW + DAY + MINUTE) == []


def test_a_report_knows_the_reading_that_it_is_part_of(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
        session = look(tx, session, {"heart-rate-high": TIGHT}, now=NOW + MINUTE)
        alone = a_report(tx, read_at=NOW + DAY)
        agency = a_person(tx).agency_id
        numbers = [look.report for look in session.looks] + [session.telling]
        found = [reading_of_report(tx, agency_id=agency, report_id=n or 0) for n in numbers]

        assert [one and one.status for one in found] == [ReadingStatus.SETTLED] * 3
        assert reading_of_report(tx, agency_id=agency, report_id=alone.id) is None
        theirs = olu(tx).agency_id
        assert reading_of_report(tx, agency_id=theirs, report_id=session.telling or 0) is None


def test_an_outsider_finds_nothing(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
        theirs = olu(tx).agency_id

        assert not is_device(tx, agency_id=theirs, tag="boat-3")
        assert wanted_looks(tx, agency_id=theirs, now=NOW) == []
        with pytest.raises(NotFound):
            reading(tx, agency_id=theirs, number=session.id, now=NOW)
        with pytest.raises(NotFound):
            reading_start(tx, agency_id=theirs, tag="boat-3", now=NOW)
