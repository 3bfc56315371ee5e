from datetime import date
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.device_changes import change_loan, retire_device
from app.domain.device_tags import is_right, with_check
from app.domain.devices import Loan
from app.domain.people import Role
from app.domain.register_filter import Wanted
from app.lookups.register import Places, places, register, register_part, workers
from app.storage.database import Database
from tests.builders import DAY, NOW, a_device, a_person, a_report, a_signed_revision, olu
from tests.storage.statements import counted


def a_fleet(tx: Session) -> int:
    a_signed_revision(tx)
    femi = a_person(tx, Role.FLEET_MANAGER)
    for tag, model in (("boat-3", "dunlin"), ("boat-4", "petrel"), ("boat-5", "dunlin")):
        a_device(tx, tag, model=model)
    a_report(tx, device="boat-3")
    loan = Loan("Tern Air", date(2026, 3, 1))
    change_loan(tx, tag="boat-4", loan=loan, why="", by=femi, now=NOW)
    retire_device(tx, tag="boat-5", why="broken", by=femi, now=NOW)
    return femi.agency_id


@pytest.mark.parametrize(
    ("wanted", "tags"),
    [
        ({}, ["boat-3", "boat-4"]),
        ({"model": "petrel"}, ["boat-4"]),
        ({"station": "North"}, ["boat-3", "boat-4"]),
        ({"station": "South"}, []),
        ({"status": "retired"}, ["boat-5"]),
        ({"status": "in-service"}, ["boat-3", "boat-4"]),
        ({"clearance": "cleared"}, []),
        ({"clearance": "not-cleared"}, ["boat-3", "boat-4"]),
        ({"overdue": True}, ["boat-4"]),
    ],
)
def test_the_register_is_narrowed(
    database: Database, wanted: dict[str, Any], tags: list[str]
) -> None:
    with database.writing() as tx:
        agency = a_fleet(tx)
        found = register(tx, agency_id=agency, now=NOW, wanted=Wanted(**wanted))

    assert [one.mark.device.tag for one in found] == tags


def test_past_the_check_interval_a_device_is_overdue(database: Database) -> None:
    with database.writing() as tx:
        agency = a_fleet(tx)
        days = {
            days: register(tx, agency_id=agency, now=NOW + days * DAY, wanted=Wanted())[0].overdue
            for days in (90, 91)
        }

    assert days == {90: False, 91: True}


def test_it_takes_as_many_statements_for_many_as_for_few(database: Database) -> None:
    with database.writing() as tx:
        agency = a_fleet(tx)
    with database.reading() as tx, counted(database) as few:
        register(tx, agency_id=agency, now=NOW, wanted=Wanted())
    with database.writing() as tx:
        for number in range(30):
            a_device(tx, f"road-{number}")
    with database.reading() as tx, counted(database) as many:
        register(tx, agency_id=agency, now=NOW, wanted=Wanted())

    assert len(few) == len(many) <= 8


@pytest.mark.parametrize("clearance", ["", "not-cleared"])
def test_a_page_of_it_is_cut_after_narrowing(database: Database, clearance: str) -> None:
    with database.writing() as tx:
        agency = a_fleet(tx)
        for number in range(3):
            a_device(tx, f"road-{number}")
        parts = [
            register_part(
                tx,
                agency_id=agency,
                now=NOW,
                wanted=Wanted(station="North", clearance=clearance),
                first=first,
                most=2,
            )
            for first in (0, 2, 4)
        ]

    assert [[one.mark.device.tag for one in part.lines] for part in parts] == [
        ["boat-3", "boat-4"],
        ["road-0", "road-1"],
        ["road-2"],
    ]
    assert {part.matching for part in parts} == {5}


def test_another_agency_sees_nothing_of_it(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx)

        assert register(tx, agency_id=olu(tx).agency_id, now=NOW, wanted=Wanted()) == ()


def test_known_places_are_offered_and_the_next_tags(database: Database) -> None:
    with database.writing() as tx:
        known = places(tx, agency_id=a_fleet(tx))

    assert (known.stations, known.models) == (("North",), ("dunlin", "petrel"))
    assert known.proposed == (with_check("boat-1"),)


def test_a_first_tag_is_proposed_as_well() -> None:
    (tag,) = Places((), (), ()).proposed

    assert is_right(tag)


def test_work_is_done_by_those_who_keep_the_fleet(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx, Role.CREW)
        tess = a_person(tx, Role.TECHNICIAN)
        agency = a_fleet(tx)

        assert {one.name for one in workers(tx, agency_id=agency)} == {"Femi", tess.name}
