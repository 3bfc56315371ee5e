import pytest
from sqlmodel import Session

from app.actions.accounts import (
    change_password,
    end_other_sessions,
    end_session,
    end_sessions_of,
)
from app.actions.sign_ins import sign_in
from app.domain.errors import NotAllowed, NotFound, NotSignedIn, Refused, TooMany
from app.domain.people import Person, Role
from app.lookups.sign_ins import sessions_of, signed_in
from app.storage.database import Database
from tests.builders import HOUR, MINUTE, NOW, PASSWORD, a_person, olu
from tests.storage.ledgers import deeds

NEW = "a lantern on the north pier"


def enter(tx: Session, person: Person, password: str = PASSWORD) -> str:
    return sign_in(
        tx,
        agency=person.agency,
        username=person.username,
        password=password,
        now=NOW,
        address="192.0.2.7",
    )


def is_in(tx: Session, token: str) -> bool:
    return signed_in(tx, token=token, now=NOW) is not None


def test_a_new_password_ends_every_other_session(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        here, phone = enter(tx, dana), enter(tx, dana)

        ended = change_password(tx, old=PASSWORD, new=NEW, token=here, by=dana, now=NOW)

        assert ended == 1
        assert (is_in(tx, here), is_in(tx, phone)) == (True, False)
        assert enter(tx, dana, NEW)
        with pytest.raises(NotSignedIn):
            enter(tx, dana)
        assert "change a password" in deeds(tx, "skerry")


@pytest.mark.parametrize(
    ("old", "new", "column"),
    [
        ("not mine at all", NEW, "old_password"),
        (PASSWORD, "eleven char", "password"),
        (PASSWORD, PASSWORD, "password"),
        (PASSWORD, "marchstone 2026", "password"),
        (PASSWORD, "Skerry-Ambulance", "password"),
        (PASSWORD, "1qaz2wsx3edc", "password"),
        (PASSWORD, "sunshine sunshine", "password"),
    ],
)
def test_a_password_that_will_not_do_changes_nothing(
    database: Database, old: str, new: str, column: str
) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        token = enter(tx, dana)

    with pytest.raises(Refused) as refused, database.writing() as tx:
        change_password(tx, old=old, new=new, token=token, by=dana, now=NOW)

    assert [fault.column for fault in refused.value.faults] == [column]
    with database.writing() as tx:
        assert enter(tx, dana)


def test_guessing_the_old_password_is_slowed_down(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
    for _ in range(5):
        with pytest.raises(Refused), database.writing() as tx:
            change_password(tx, old="a wrong one", new=NEW, token="", by=dana, now=NOW)

    with pytest.raises(TooMany), database.writing() as tx:
        change_password(tx, old=PASSWORD, new=NEW, token="", by=dana, now=NOW)


def test_only_live_sessions_of_ones_own_are_listed(database: Database) -> None:
    with database.writing() as tx:
        dana, ravi = a_person(tx), a_person(tx, Role.REVIEWER)
        here, phone = enter(tx, dana), enter(tx, dana)
        enter(tx, ravi)

        found = sessions_of(tx, person=dana, token=here, now=NOW)
        assert sorted(one.here for one in found) == [False, True]
        end_session(tx, session=next(o.id for o in found if not o.here), by=dana, now=NOW)

        assert [one.here for one in sessions_of(tx, person=dana, token=here, now=NOW)] == [True]
        assert not is_in(tx, phone)
        late = NOW + HOUR + MINUTE
        assert sessions_of(tx, person=dana, token=here, now=late) == []


def test_nobody_ends_a_session_of_somebody_else(database: Database) -> None:
    with database.writing() as tx:
        dana, ravi = a_person(tx), a_person(tx, Role.REVIEWER)
        token = enter(tx, dana)
        [session] = sessions_of(tx, person=dana, token=token, now=NOW)

    with pytest.raises(NotFound), database.writing() as tx:
        end_session(tx, session=session.id, by=ravi, now=NOW)

    with database.reading() as tx:
        assert is_in(tx, token)


def test_every_other_session_is_ended_and_this_one_stays(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        here, *others = (enter(tx, dana) for _ in range(3))

        assert end_other_sessions(tx, token=here, by=dana, now=NOW) == 2

        assert [is_in(tx, token) for token in (here, *others)] == [True, False, False]


def test_an_administrator_signs_somebody_of_the_agency_out(database: Database) -> None:
    with database.writing() as tx:
        ada, dana = a_person(tx, Role.ADMINISTRATOR), a_person(tx)
        outsider = olu(tx)
        token, theirs = enter(tx, dana), enter(tx, outsider)

        assert end_sessions_of(tx, username="dana", by=ada, now=NOW) == 1
        assert not is_in(tx, token)
        with pytest.raises(NotFound):
            end_sessions_of(tx, username="olu", by=ada, now=NOW)
        assert is_in(tx, theirs)
        with pytest.raises(NotAllowed):
            end_sessions_of(tx, username="ada", by=dana, now=NOW)
