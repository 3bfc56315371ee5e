from typing import Any

import pytest
from sqlmodel import Session

from app.actions.people import (
    SETUP_LINK_LASTS,
    add_person,
    create_agency,
    first_administrator,
    make_setup_link,
)
from app.actions.sign_ins import sign_in
from app.domain.agencies import NewAgency
from app.domain.errors import NotAllowed, NotNow, Refused
from app.domain.people import Person, Role
from app.lookups.agencies import needs_setup, people_of, setup_link_works
from app.storage.database import Database
from tests.builders import MINUTE, NOW, PASSWORD, a_person, an_agency
from tests.storage.ledgers import bodies, deeds


def become_administrator(tx: Session, token: str, **instead: Any) -> Person:
    wanted: dict[str, Any] = {
        "token": token,
        "agency": NewAgency("skerry", "Skerry Isles Ambulance", "Europe/London"),
        "username": "Ada",
        "name": "Ada",
        "password": PASSWORD,
        "now": NOW,
    }
    return first_administrator(tx, **(wanted | instead))


def add_cruz(tx: Session, by: Person, **instead: Any) -> Person:
    wanted: dict[str, Any] = {
        "username": "cruz",
        "name": "Cruz",
        "roles": {Role.CREW},
        "password": PASSWORD,
        "by": by,
        "now": NOW,
    }
    return add_person(tx, **(wanted | instead))


def test_the_setup_link_makes_an_agency_and_its_administrator(database: Database) -> None:
    with database.writing() as tx:
        token = make_setup_link(tx, now=NOW)
        assert needs_setup(tx)
        ada = become_administrator(tx, token)

        assert not needs_setup(tx)
        assert (ada.agency, ada.username, ada.roles) == (
            "skerry",
            "ada",
            frozenset({Role.ADMINISTRATOR}),
        )
        assert sign_in(
            tx, agency="skerry", username="ada", password=PASSWORD, now=NOW, address="::1"
        )
        assert deeds(tx, "*") == ["make a setup link"]
        assert deeds(tx) == ["create the agency", "add a person", "sign in"]


def test_the_link_works_once_and_for_a_day(database: Database) -> None:
    last = NOW + SETUP_LINK_LASTS - MINUTE / 60
    with database.writing() as tx:
        token = make_setup_link(tx, now=NOW)

        assert setup_link_works(tx, token=token, now=last)
        assert not setup_link_works(tx, token=token, now=NOW + SETUP_LINK_LASTS)
        with pytest.raises(NotAllowed):
            become_administrator(tx, token, now=NOW + SETUP_LINK_LASTS)
        become_administrator(tx, token, now=last)
        with pytest.raises(NotAllowed):
            become_administrator(tx, token, now=last)


def test_a_newer_link_replaces_the_older(database: Database) -> None:
    with database.writing() as tx:
        old = make_setup_link(tx, now=NOW)
        new = make_setup_link(tx, now=NOW)

        assert not setup_link_works(tx, token=old, now=NOW)
        assert setup_link_works(tx, token=new, now=NOW)


def test_there_is_no_link_once_there_is_an_administrator(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx, Role.ADMINISTRATOR)

        with pytest.raises(NotNow):
            make_setup_link(tx, now=NOW)


def test_a_refused_form_leaves_the_link_unused(database: Database) -> None:
    with database.writing() as tx:
        token = make_setup_link(tx, now=NOW)
    with pytest.raises(Refused), database.writing() as tx:
        become_administrator(tx, token, password="too short")

    with database.writing() as tx:
        assert become_administrator(tx, token).username == "ada"


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("agency_key", {"key": "Skerry Isles"}),
        ("agency_key", {"key": "taken"}),
        ("agency_name", {"name": " "}),
        ("time_zone", {"time_zone": "Skerry/Isles"}),
        ("time_zone", {"time_zone": "../etc/passwd"}),
    ],
)
def test_a_bad_agency_is_refused(database: Database, column: str, instead: dict[str, str]) -> None:
    wanted = {"key": "new", "name": "New", "time_zone": "Atlantic/Faroe"}
    with database.writing() as tx:
        an_agency(tx, "taken")

        with pytest.raises(Refused) as refused:
            create_agency(tx, agency=NewAgency(**(wanted | instead)), now=NOW)

    assert refused.value.faults[0].column == column


def test_an_administrator_adds_people(database: Database) -> None:
    with database.writing() as tx:
        ada = a_person(tx, Role.ADMINISTRATOR)
        cruz = add_cruz(tx, ada)

        assert people_of(tx, agency_id=ada.agency_id) == [ada, cruz]
        assert bodies(tx)[-1]["by"] == "ada"
        assert bodies(tx)[-1]["about"] == {"username": "cruz", "name": "Cruz", "roles": ["crew"]}


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.ADMINISTRATOR}))
def test_nobody_else_adds_people(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as tx:
        somebody = a_person(tx, role)

        with pytest.raises(NotAllowed):
            add_cruz(tx, somebody)


@pytest.mark.parametrize(
    ("column", "instead"),
    [
        ("username", {"username": "cruz smith"}),
        ("username", {"username": "ADA"}),
        ("name", {"name": ""}),
        ("roles", {"roles": set()}),
        ("password", {"password": "eleven char"}),
        ("password", {"password": "cruzcruzcruz"}),
    ],
)
def test_a_bad_person_is_refused(database: Database, column: str, instead: dict[str, Any]) -> None:
    with database.writing() as tx:
        ada = a_person(tx, Role.ADMINISTRATOR)

        with pytest.raises(Refused) as refused:
            add_cruz(tx, ada, **instead)

    assert refused.value.faults[0].column == column


def test_two_agencies_may_have_the_same_username(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx, Role.CREW)
        elsewhere = add_cruz(tx, a_person(tx, Role.ADMINISTRATOR, agency="elsewhere"))

    assert elsewhere.agency == "elsewhere"


def test_an_administrator_sees_only_their_own_people(database: Database) -> None:
    with database.writing() as tx:
        ada = a_person(tx, Role.ADMINISTRATOR)
        a_person(tx, Role.CREW, agency="elsewhere")

        assert people_of(tx, agency_id=ada.agency_id) == [ada]


def test_if_the_ledger_cannot_be_written_nothing_is_changed(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    with database.writing() as tx:
        ada = a_person(tx, Role.ADMINISTRATOR)

    def disk_full(*_: object) -> str:
        raise OSError("disk full")

    monkeypatch.setattr("app.storage.ledger.entry_hash", disk_full)
    with pytest.raises(OSError, match="disk full"), database.writing() as tx:
        add_cruz(tx, ada)

    with database.reading() as tx:
        assert people_of(tx, agency_id=ada.agency_id) == [ada]
