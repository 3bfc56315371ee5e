from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from app.actions import device_changes as changes
from app.actions.clearances import LONGEST_DAYS, end_override, override_clearance
from app.domain.clearances import Clearance, ClearanceState
from app.domain.device_reports import FoundOn, Origin, Reading
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.option_judgement import ANY_PRESET
from app.domain.people import Person, Role
from app.lookups.register import device_on_register
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

PRESETS = ("neonate", "infant", "preschool", "school", "adult")
TODAY = NOW.date()
CLEARED, BY_HAND, NOT_CLEARED = ClearanceState


def clearance(tx: Session, tag: str = "boat-3", *, days: int = 0) -> Clearance:
    agency = a_person(tx).agency_id
    return device_on_register(tx, agency_id=agency, tag=tag, now=NOW + days * DAY).clearance


def read_all(tx: Session, *, by: Person, hours: int, **adult: Any) -> None:
    """Every preset; `adult` says how the last of them differs."""
    for number, preset in enumerate(PRESETS):
        more = adult if preset == "adult" else {}
        told: dict[str, Any] = {"preset": preset, "readings": as_signed(preset)}
        a_report(tx, by=by, read_at=NOW + hours * HOUR + number * MINUTE, **(told | more))


def a_serviced_device(tx: Session) -> None:
    """Read and cleared before; Tess did the work, and Femi told of it three hours later."""
    a_signed_revision(tx)
    a_device(tx)
    femi, tess = a_person(tx, Role.FLEET_MANAGER), a_person(tx, Role.TECHNICIAN)
    read_all(tx, by=femi, hours=0)
    changes.send_to_service(tx, tag="boat-3", why="battery", by=tess, now=NOW + HOUR)
    changes.take_back_from_service(
        tx,
        tag="boat-3",
        software="3.2",
        worker=tess.username,
        spare=False,
        why="new battery",
        by=femi,
        now=NOW + 3 * HOUR,
    )


def test_a_device_is_cleared_once_all_of_it_was_read(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
        before = clearance(tx)
        a_report(tx, preset="adult", readings=as_signed("adult"))
        between = clearance(tx)
        read_all(tx, by=a_person(tx, Role.CREW), hours=1)
        after = clearance(tx)

    assert before.why == ("Nobody has read what it holds.",)
    assert between.why == ("Only 1 of its 5 presets were ever read.",)
    assert after == Clearance(CLEARED)


@pytest.mark.parametrize(
    ("reader", "hours", "adult", "state"),
    [
        (Role.CREW, 4, {}, CLEARED),
        (Role.FLEET_MANAGER, 4, {}, CLEARED),
        (Role.TECHNICIAN, 4, {}, NOT_CLEARED),
        (Role.CREW, 4, {"origin": Origin.FILE}, NOT_CLEARED),
        (Role.CREW, 4, {"readings": as_signed("adult", spo2_low=limit(95))}, NOT_CLEARED),
        (Role.CREW, 2, {}, NOT_CLEARED),
    ],
)
def test_service_needs_a_blind_reading_of_another_person(
    database: Database, reader: Role, hours: int, adult: dict[str, Any], state: ClearanceState
) -> None:
    with database.writing() as tx:
        a_serviced_device(tx)
        assert clearance(tx).state is NOT_CLEARED

        read_all(tx, by=a_person(tx, reader), hours=hours, **adult)

        assert clearance(tx).state is state


def test_what_is_done_later_takes_the_clearance_again(database: Database) -> None:
    with database.writing() as tx:
        a_serviced_device(tx)
        read_all(tx, by=a_person(tx, Role.CREW), hours=4)
        tess = a_person(tx, Role.TECHNICIAN)
        changes.change_software(
            tx, tag="boat-3", software="3.3", why="", by=tess, now=NOW + 9 * HOUR
        )

        assert clearance(tx).why[0].startswith("Its software was changed")


def override(tx: Session, **instead: Any) -> None:
    wanted: dict[str, Any] = {
        "tag": "boat-3",
        "to": BY_HAND,
        "reason": "The only one on the island",
        "until": TODAY + timedelta(days=7),
        "by": a_person(tx),
        "now": NOW + 5 * HOUR,
    }
    override_clearance(tx, **(wanted | instead))


def test_the_directors_word_shows_with_reason_name_and_day(database: Database) -> None:
    with database.writing() as tx:
        a_serviced_device(tx)
        override(tx)
        answer = clearance(tx)

        assert answer.state is BY_HAND
        assert answer.override is not None
        assert answer.override.words == (
            "The director, Dana, until 9 Mar 2026: The only one on the island"
        )
        assert clearance(tx, days=7).override is not None
        assert clearance(tx, days=8).override is None
        assert bodies(tx)[-1]["about"] == {
            "device": "boat-3",
            "to": "by-hand",
            "reason": "The only one on the island",
            "until": "2026-03-09",
        }


def test_a_later_word_takes_the_place_of_an_earlier_one(database: Database) -> None:
    with database.writing() as tx:
        a_serviced_device(tx)
        override(tx)
        override(tx, to=CLEARED)

        assert clearance(tx).state is CLEARED


def test_it_can_be_taken_back(database: Database) -> None:
    with database.writing() as tx:
        a_serviced_device(tx)
        override(tx)
        end_override(tx, tag="boat-3", by=a_person(tx), now=NOW + 6 * HOUR)

        assert clearance(tx).state is NOT_CLEARED
        with pytest.raises(NotNow):
            end_override(tx, tag="boat-3", by=a_person(tx), now=NOW + 6 * HOUR)


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("reason", {"reason": " "}),
        ("to", {"to": NOT_CLEARED}),
        ("until", {"until": TODAY - timedelta(days=1)}),
        ("until", {"until": TODAY + timedelta(days=LONGEST_DAYS + 1)}),
        (None, {"until": TODAY}),
        (None, {"until": TODAY + timedelta(days=LONGEST_DAYS)}),
    ],
)
def test_a_word_needs_a_reason_and_a_day(
    database: Database, column: str | None, instead: dict[str, Any]
) -> None:
    with database.writing() as tx:
        a_device(tx)

        if column is None:
            override(tx, **instead)
            return
        with pytest.raises(Refused) as refused:
            override(tx, **instead)
    assert refused.value.faults[0].column == column


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.MEDICAL_DIRECTOR}))
def test_only_the_director_overrides(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as tx:
        a_device(tx)
        by = a_person(tx, role)

        with pytest.raises(NotAllowed):
            override(tx, by=by)
        with pytest.raises(NotAllowed):
            end_override(tx, tag="boat-3", by=by, now=NOW)


def test_another_agencys_device_is_not_overridden(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)

        with pytest.raises(NotFound):
            override(tx, by=olu(tx))
        with pytest.raises(NotFound):
            end_override(tx, tag="boat-3", by=olu(tx), now=NOW)


def test_the_day_is_one_of_the_agencys_own(database: Database) -> None:
    """In London it is 1 June already, half an hour before midnight in UTC."""
    summer = NOW.replace(month=5, day=31, hour=23, minute=30)
    with database.writing() as tx:
        a_device(tx)

        with pytest.raises(Refused):
            override(tx, until=date(2026, 5, 31), now=summer)


def test_after_service_the_options_that_the_policy_states_are_read_as_well(
    database: Database,
) -> None:
    options = {"audio-volume": {"value": 80, "reason": "heard at the crew's seat"}}
    with database.writing() as tx:
        a_signed_revision(tx, document={**a_document(), "options": options})
        a_device(tx)
        tess, femi = a_person(tx, Role.TECHNICIAN), a_person(tx, Role.FLEET_MANAGER)
        changes.change_software(tx, tag="boat-3", software="3.2", why="", by=tess, now=NOW)
        read_all(tx, by=femi, hours=1)
        between = clearance(tx)
        held: dict[str, Reading] = {"audio-volume": FoundOn(Decimal(80))}
        a_report(tx, held, preset=ANY_PRESET, by=femi, read_at=NOW + 2 * HOUR)
        after = clearance(tx)

    assert between.state is NOT_CLEARED
    assert after == Clearance(CLEARED)
