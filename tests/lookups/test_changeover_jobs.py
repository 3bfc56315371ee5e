from datetime import datetime
from typing import Any

import pytest
from sqlmodel import Session

from app.domain.changeover_jobs import JobState
from app.domain.device_reports import Origin, Reading, StateRead
from app.domain.errors import NotFound
from app.lookups.changeover_changes import changes_of, reader_names
from app.lookups.changeover_jobs import Changeover, changeover
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.statements import counted

EVERY = ("neonate", "infant", PRESET, "school", "adult")


def changed() -> dict[str, Reading]:
    return as_signed(heart_rate_low=limit(80), heart_rate_high=limit(165))


BEGAN = NOW + DAY


def two_revisions(tx: Session, **instead: Any) -> None:
    """The second changes two limits of one preset."""
    a_signed_revision(tx)
    document = a_document({"heart-rate-low": 80, "heart-rate-high": 165})
    a_signed_revision(tx, document=document, **{"now": BEGAN, **instead})


def whole(tx: Session, tag: str, *, read_at: datetime, **instead: Reading) -> None:
    a_device(tx, tag)
    for preset in EVERY:
        found = as_signed(preset, **(instead if preset == PRESET else {}))
        a_report(tx, found, device=tag, preset=preset, read_at=read_at)


def see(tx: Session, *, now: datetime, number: int | None = None) -> Changeover:
    return changeover(tx, agency_id=a_person(tx).agency_id, now=now, number=number)


def states(found: Changeover) -> dict[str, dict[str, JobState]]:
    return {one.device.tag: {job.preset: job.state for job in one.jobs} for one in found.devices}


def test_a_preset_on_which_nothing_changes_holds_already_and_the_other_is_to_be_set(
    database: Database,
) -> None:
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        a_device(tx, "boat-4")
        found = see(tx, now=BEGAN + DAY)
        changes = changes_of(found, found.devices[-1])

    assert states(found) == {
        "boat-3": {
            preset: JobState.NOT_SINCE if preset == PRESET else JobState.HOLDS for preset in EVERY
        },
        "boat-4": dict.fromkeys(EVERY, JobState.NEVER_READ),
    }
    assert [one.device.tag for one in found.devices] == ["boat-4", "boat-3"]
    assert {one.job.preset: [line.alarm for line in one.lines] for one in changes} == {
        preset: ["heart-rate-high", "heart-rate-low"] if preset == PRESET else []
        for preset in EVERY
    }
    assert changes_of(found, found.devices[0]) == []
    assert (found.curve.devices, found.curve.today and found.curve.today.verified) == (2, 0)


def test_a_blind_reading_since_it_began_verifies(database: Database) -> None:
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        a_report(tx, changed(), read_at=BEGAN + 2 * DAY)
        a_report(tx, changed(), read_at=BEGAN + 20 * DAY)
        found = see(tx, now=BEGAN + 20 * DAY)
        names = reader_names(tx, found.devices[0].jobs)

    (boat,) = found.devices
    assert boat.done
    assert boat.verified_at == BEGAN + 2 * DAY
    assert set(names.values()) == {"Femi"}
    assert [(point.days, point.verified) for point in found.curve.points] == [
        (1, 0),
        (3, 1),
        (21, 1),
    ]


@pytest.mark.parametrize(
    ("report", "state"),
    [
        ({"origin": Origin.FILE}, JobState.NOT_BLIND),
        ({"origin": Origin.API}, JobState.NOT_BLIND),
        ({"origin": Origin.CREW}, JobState.VERIFIED),
        ({"readings": as_signed(heart_rate_low=limit(80))}, JobState.DIFFERS),
        ({"readings": as_signed(heart_rate_high=limit(250))}, JobState.UNSAFE),
        ({"readings": {"heart-rate-low": limit(80)}}, JobState.IN_PART),
        ({"state_read": StateRead.IN_USE}, JobState.NOT_SINCE),
    ],
)
def test_nothing_else_does(database: Database, report: dict[str, Any], state: JobState) -> None:
    told = {"readings": changed(), **report}
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        a_report(tx, told.pop("readings"), read_at=BEGAN + DAY, **told)
        found = see(tx, now=BEGAN + 2 * DAY)

    assert states(found)["boat-3"][PRESET] is state
    assert found.devices[0].done is (state is JobState.VERIFIED)


def test_a_part_read_first_does_not_date_it(database: Database) -> None:
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        a_report(tx, {"heart-rate-low": limit(80)}, read_at=BEGAN + DAY)
        a_report(tx, changed(), read_at=BEGAN + 5 * DAY)
        found = see(tx, now=BEGAN + 6 * DAY)

    assert found.devices[0].verified_at == BEGAN + 5 * DAY


def test_it_is_prepared_before_its_time(database: Database) -> None:
    with database.writing() as tx:
        two_revisions(tx, now=NOW, in_force_at=BEGAN)
        whole(tx, "boat-3", read_at=NOW)
        today = see(tx, now=NOW + HOUR)
        ahead = see(tx, now=NOW + HOUR, number=2)

    assert today.revision is not None
    assert (today.revision.number, today.next and today.next.number) == (1, 2)
    assert today.devices[0].done
    assert ahead.ahead
    assert ahead.curve.points == ()
    assert states(ahead)["boat-3"][PRESET] is JobState.NOT_SINCE
    assert states(ahead)["boat-3"]["adult"] is JobState.HOLDS


@pytest.mark.parametrize(("days", "overdue"), [(29, False), (30, True)])
def test_after_the_changeover_what_is_left_was_missed(
    database: Database, days: int, overdue: bool
) -> None:
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        found = see(tx, now=BEGAN + days * DAY)

    assert found.overdue is overdue


def test_a_revision_that_is_over_or_not_signed_has_no_changeover(database: Database) -> None:
    with database.writing() as tx:
        nothing = see(tx, now=NOW)
        two_revisions(tx)

        assert nothing.revision is None
        assert nothing.devices == ()
        for number in (1, 3):
            with pytest.raises(NotFound):
                see(tx, now=BEGAN + DAY, number=number)


def test_it_costs_the_same_however_many_devices(sqlite_database: Database) -> None:
    costs = []
    for names in (["boat-3"], [f"van-{number}" for number in range(8)]):
        with sqlite_database.writing() as tx:
            if names == ["boat-3"]:
                two_revisions(tx)
            for tag in names:
                whole(tx, tag, read_at=NOW)
            agency = a_person(tx).agency_id
        with sqlite_database.reading() as tx, counted(sqlite_database) as statements:
            found = changeover(tx, agency_id=agency, now=BEGAN + DAY)
        costs.append((len(found.devices), len(statements)))

    assert costs == [(1, 9), (9, 9)]


def test_an_outsider_sees_nothing(database: Database) -> None:
    with database.writing() as tx:
        two_revisions(tx)
        whole(tx, "boat-3", read_at=NOW)
        outsider = olu(tx).agency_id

        assert changeover(tx, agency_id=outsider, now=BEGAN + DAY).revision is None
