import json
from datetime import timedelta

import pytest
from sqlmodel import Session, select

from app.actions.invitations import invite, make_link, set_password_by_link
from app.actions.sign_ins import sign_in
from app.domain.errors import NotAllowed, NotFound, NotSignedIn, Refused
from app.domain.invitations import LINK_LASTS
from app.domain.people import Person, Role
from app.lookups.invitations import invited, unused_invitations
from app.lookups.sign_ins import signed_in
from app.storage.database import Database
from app.storage.invitations import InvitationRow
from tests.builders import NOW, PASSWORD, a_person, olu
from tests.storage.ledgers import bodies, deeds

NEW = "a lantern on the north pier"
SECOND = timedelta(seconds=1)


def ada(tx: Session) -> Person:
    return a_person(tx, Role.ADMINISTRATOR)


def invite_cruz(tx: Session, **instead: object) -> tuple[Person, str]:
    wanted = {"username": "Cruz", "name": "Cruz", "roles": {Role.CREW}, "by": ada(tx), "now": NOW}
    return invite(tx, **(wanted | instead))  # type: ignore[arg-type]


def enter(tx: Session, username: str, password: str) -> str:
    return sign_in(
        tx, agency="skerry", username=username, password=password, now=NOW, address="::1"
    )


def test_nobody_signs_in_before_a_password_is_set(database: Database) -> None:
    with database.writing() as tx:
        invite_cruz(tx)
    for tried in ("invited", "", NEW):
        with pytest.raises(NotSignedIn), database.writing() as tx:
            enter(tx, "cruz", tried)


def test_the_link_sets_the_password_once(database: Database) -> None:
    with database.writing() as tx:
        cruz, token = invite_cruz(tx)

        assert set_password_by_link(tx, token=token, password=NEW, now=NOW) == cruz
        assert enter(tx, "cruz", NEW)
        with pytest.raises(NotAllowed, match="Ask an administrator"):
            set_password_by_link(tx, token=token, password=NEW, now=NOW)
        assert unused_invitations(tx, agency_id=cruz.agency_id) == {}


def test_it_works_until_its_end_and_not_at_it(database: Database) -> None:
    with database.writing() as tx:
        cruz, token = invite_cruz(tx)
        end = NOW + LINK_LASTS

        assert invited(tx, token=token, now=end - SECOND) == cruz
        assert invited(tx, token=token, now=end) is None
        with pytest.raises(NotAllowed):
            set_password_by_link(tx, token=token, password=NEW, now=end)


def test_a_newer_link_ends_the_older(database: Database) -> None:
    with database.writing() as tx:
        cruz, old = invite_cruz(tx)
        new = make_link(tx, username="cruz", by=ada(tx), now=NOW)

        assert invited(tx, token=old, now=NOW) is None
        assert invited(tx, token=new, now=NOW) == cruz


def test_a_lost_password_works_until_the_link_is_used_and_then_all_sessions_end(
    database: Database,
) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        token = make_link(tx, username="dana", by=ada(tx), now=NOW)
        session = enter(tx, "dana", PASSWORD)

        set_password_by_link(tx, token=token, password=NEW, now=NOW)

        assert signed_in(tx, token=session, now=NOW) is None
        assert enter(tx, "dana", NEW)
        assert dana.username == "dana"
    with pytest.raises(NotSignedIn), database.writing() as tx:
        enter(tx, "dana", PASSWORD)


def test_a_password_that_would_be_guessed_is_refused_and_the_link_still_works(
    database: Database,
) -> None:
    with database.writing() as tx:
        cruz, token = invite_cruz(tx)
        with pytest.raises(Refused):
            set_password_by_link(tx, token=token, password="cruzcruzcruz", now=NOW)

        assert invited(tx, token=token, now=NOW) == cruz


def test_the_ledger_tells_both_moments_and_no_secret(database: Database) -> None:
    with database.writing() as tx:
        _, token = invite_cruz(tx)
        set_password_by_link(tx, token=token, password=NEW, now=NOW)

        told = deeds(tx)[-3:]
        kept = json.dumps(bodies(tx)) + tx.exec(select(InvitationRow.token_hash)).one()

    assert told == ["add a person", "make a link to set a password", "set a password by a link"]
    assert token not in kept
    assert NEW not in kept


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.ADMINISTRATOR}))
def test_only_an_administrator_makes_links(database: Database, role: Role) -> None:
    with database.writing() as tx:
        somebody = a_person(tx, role)
        with pytest.raises(NotAllowed):
            invite_cruz(tx, by=somebody)
        with pytest.raises(NotAllowed):
            make_link(tx, username=somebody.username, by=somebody, now=NOW)


def test_people_of_another_agency_are_not_found(database: Database) -> None:
    with database.writing() as tx:
        stranger = olu(tx)
        with pytest.raises(NotFound):
            make_link(tx, username=stranger.username, by=ada(tx), now=NOW)
