from typing import Any

import pytest
from sqlmodel import Session

from app.actions.devices import add_device
from app.domain.devices import Device
from app.domain.errors import NotAllowed, Refused
from app.domain.people import Person, Role
from app.storage.database import Database
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
        }


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("tag", {"tag": ""}),
        ("tag", {"tag": "boat 3"}),
        ("tag", {"tag": "../boat"}),
        ("tag", {"tag": "x" * 41}),
        ("tag", {"tag": "taken"}),
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
