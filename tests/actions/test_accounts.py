import pytest
from sqlmodel import Session

from app.actions.accounts import (
    change_password,
    close_account,
    close_own_account,
    end_other_sessions,
    end_session,
    end_sessions_of,
    open_account_again,
)
from app.actions.invitations import make_link, set_password_by_link
from app.actions.sign_ins import sign_in
from app.domain.errors import NotAllowed, NotFound, NotNow, NotSignedIn, Refused, TooMany
from app.domain.people import Person, Role
from app.lookups.agencies import closed_people_of, people_of
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
        other = next(one.id for one in found if not one.here)
        with pytest.raises(Refused):
            end_session(tx, session=other, password="not mine", by=dana, now=NOW)
        end_session(tx, session=other, password=PASSWORD, by=dana, now=NOW)

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
        end_session(tx, session=session.id, password=PASSWORD, by=ravi, now=NOW)

    with database.reading() as tx:
        assert is_in(tx, token)


def test_every_other_session_is_ended_and_this_one_stays(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        here, *others = (enter(tx, dana) for _ in range(3))

        with pytest.raises(Refused):
            end_other_sessions(tx, token=here, password="not mine", by=dana, now=NOW)
        assert end_other_sessions(tx, token=here, password=PASSWORD, by=dana, now=NOW) == 2

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


def test_a_closed_account_is_out_everywhere_and_stays_out(database: Database) -> None:
    with database.writing() as tx:
        ada, dana = a_person(tx, Role.ADMINISTRATOR), a_person(tx)
        phones = [enter(tx, dana) for _ in range(2)]
        link = make_link(tx, username="dana", by=ada, now=NOW)

        assert close_account(tx, username="dana", by=ada, now=NOW) == 2

        assert [is_in(tx, phone) for phone in phones] == [False, False]
        with pytest.raises(NotSignedIn):
            enter(tx, dana)
        with pytest.raises(NotAllowed):
            set_password_by_link(tx, token=link, password=NEW, now=NOW)
        with pytest.raises(NotFound):
            make_link(tx, username="dana", by=ada, now=NOW)
        assert [one.username for one in people_of(tx, agency_id=ada.agency_id)] == ["ada"]
        assert [one.username for one in closed_people_of(tx, agency_id=ada.agency_id)] == ["dana"]
        assert "close an account" in deeds(tx, "skerry")


def test_a_closed_account_is_opened_again_by_a_link_alone(database: Database) -> None:
    with database.writing() as tx:
        ada, dana = a_person(tx, Role.ADMINISTRATOR), a_person(tx)
        close_account(tx, username="dana", by=ada, now=NOW)

        open_account_again(tx, username="dana", by=ada, now=NOW)

        with pytest.raises(NotSignedIn):
            enter(tx, dana)
        link = make_link(tx, username="dana", by=ada, now=NOW)
        set_password_by_link(tx, token=link, password=NEW, now=NOW)
        assert enter(tx, dana, NEW)
        with pytest.raises(NotFound):
            open_account_again(tx, username="dana", by=ada, now=NOW)


def test_one_s_own_account_is_closed_by_the_password(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        here = enter(tx, dana)

        with pytest.raises(Refused):
            close_own_account(tx, password="not mine", by=dana, now=NOW)
        assert is_in(tx, here)
        assert close_own_account(tx, password=PASSWORD, by=dana, now=NOW) == 1

        assert not is_in(tx, here)


def test_the_last_administrator_stays(database: Database) -> None:
    """One who never set a password could not come in instead."""
    with database.writing() as tx:
        ada = a_person(tx, Role.ADMINISTRATOR)
        abe = a_person(tx, Role.ADMINISTRATOR, name="Abe")
        close_account(tx, username="abe", by=ada, now=NOW)
        open_account_again(tx, username="abe", by=ada, now=NOW)

        with pytest.raises(NotNow):
            close_account(tx, username="ada", by=ada, now=NOW)

        link = make_link(tx, username="abe", by=ada, now=NOW)
        set_password_by_link(tx, token=link, password=NEW, now=NOW)
        close_own_account(tx, password=PASSWORD, by=ada, now=NOW)
        assert [one.id for one in people_of(tx, agency_id=ada.agency_id)] == [abe.id]


def test_only_an_administrator_closes_another_s_and_only_in_the_agency(
    database: Database,
) -> None:
    with database.writing() as tx:
        ada, dana = a_person(tx, Role.ADMINISTRATOR), a_person(tx)
        outsider = olu(tx)

        with pytest.raises(NotAllowed):
            close_account(tx, username="ada", by=dana, now=NOW)
        with pytest.raises(NotAllowed):
            open_account_again(tx, username="ada", by=dana, now=NOW)
        with pytest.raises(NotFound):
            close_account(tx, username=outsider.username, by=ada, now=NOW)
