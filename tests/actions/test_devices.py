from datetime import date
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.devices import add_device, add_devices
from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.errors import NotAllowed, Refused
from app.domain.new_devices import NewDevice
from app.domain.people import Person, Role
from app.storage.database import Database
from app.storage.devices import devices_of
from tests.builders import NOW, a_device, a_person, olu
from tests.storage.ledgers import bodies


def add(tx: Session, by: Person, **instead: Any) -> Device:
    wanted: dict[str, Any] = {"tag": "boat-3", "model": "dunlin", "station": "North"}
    return add_device(tx, **(wanted | instead), by=by, now=NOW)


def test_a_device_is_added_and_told_to_the_ledger(database: Database) -> None:
    with database.writing() as tx:
        device = add(tx, a_person(tx, Role.FLEET_MANAGER), station=" North pier ")

        assert (device.tag, device.model, device.station) == ("boat-3", "dunlin", "North pier")
        assert bodies(tx)[-1]["about"] == {
            "device": "boat-3",
            "model": "dunlin",
            "station": "North pier",
            "status": "in-service",
        }


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("tag", {"tag": ""}),
        ("tag", {"tag": "boat 3"}),
        ("tag", {"tag": "../boat"}),
        ("tag", {"tag": "x" * 41}),
        ("tag", {"tag": "taken"}),
        ("tag", {"tag": "TAKEN"}),
        ("tag", {"tag": "boat-3.5"}),
        ("model", {"model": " "}),
        ("station", {"station": "a\x00b"}),
    ],
)
def test_a_bad_device_is_refused(database: Database, column: str, instead: dict[str, str]) -> None:
    with database.writing() as tx:
        a_device(tx, "taken")

        with pytest.raises(Refused) as refused:
            add(tx, a_person(tx, Role.FLEET_MANAGER), **instead)

    assert refused.value.faults[0].column == column


def test_two_agencies_may_have_the_same_tag(database: Database) -> None:
    with database.writing() as tx:
        ours = a_device(tx)
        theirs = add(tx, olu(tx))

    assert ours.id != theirs.id


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FLEET_MANAGER}))
def test_only_the_fleet_manager_adds_devices(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as tx, pytest.raises(NotAllowed):
        add(tx, a_person(tx, role))


def test_several_are_added_with_everything_that_is_told_of_them(database: Database) -> None:
    loan = Loan(" Tern Air ", date(2026, 3, 1))
    new = [
        NewDevice("boat-3.4", "dunlin", "North", "Boat 3", "S-1", "3.1", note="scratched"),
        NewDevice("spare-1", "dunlin", "North", spare=True, loan=loan),
    ]

    with database.writing() as tx:
        first, second = add_devices(tx, new=new, by=a_person(tx, Role.FLEET_MANAGER), now=NOW)

        assert (first.vehicle, first.serial, first.software) == ("Boat 3", "S-1", "3.1")
        assert (first.note, first.loan) == ("scratched", None)
        assert (second.status, second.loan) == (
            RegisterStatus.SPARE,
            Loan("Tern Air", date(2026, 3, 1)),
        )
        assert [told["about"]["device"] for told in bodies(tx)[-2:]] == ["boat-3.4", "spare-1"]


def test_of_several_all_are_added_or_none(database: Database) -> None:
    new = [
        NewDevice("boat-3", "dunlin", "North", line=2),
        NewDevice("boat-3", " ", "", line=3),
        NewDevice("BOAT-3", "dunlin", "North", line=4),
    ]

    with database.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)

        with pytest.raises(Refused) as refused:
            add_devices(tx, new=new, by=femi, now=NOW)

        assert devices_of(tx, femi.agency_id) == []
    assert [(one.line, one.column) for one in refused.value.faults] == [
        (3, "model"),
        (3, "station"),
        (4, "tag"),
    ]
