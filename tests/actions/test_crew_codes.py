from datetime import timedelta

import pytest
import sqlalchemy as sa

from app.actions.crew_codes import enter_crew_code, remove_crew_code, set_crew_code
from app.domain.errors import NotAllowed, Refused, TooMany
from app.domain.people import Role
from app.domain.throttling import FREE_PER_ADDRESS
from app.lookups.crew_codes import crew_code_asked, lets_in
from app.lookups.ledger import prove_ledger
from app.storage.database import Database
from app.storage.ledger import entries
from tests.builders import NOW, a_person, an_agency

CODE = "north 44"


def enter(database: Database, code: str, *, address: str = "::1") -> str | None:
    with database.writing() as tx:
        return enter_crew_code(tx, agency=an_agency(tx), code=code, address=address, now=NOW)


def set_code(database: Database, code: str) -> None:
    with database.writing() as tx:
        set_crew_code(tx, code=code, by=a_person(tx), now=NOW)


def is_let_in(database: Database, carried: str) -> bool:
    with database.reading() as tx:
        return lets_in(tx, agency_id=1, carried=carried)


def test_without_a_code_everybody_is_let_in(database: Database) -> None:
    with database.writing() as tx:
        an_agency(tx)

    assert is_let_in(database, "")
    assert enter(database, "anything") is None


def test_the_code_is_kept_as_a_digest_and_never_told(database: Database) -> None:
    set_code(database, CODE)

    with database.reading() as tx:
        [kept] = tx.execute(sa.text("SELECT code_hash FROM crew_code")).one()
        told = "".join(one.body for one in entries(tx, "skerry"))
    assert kept.startswith("$argon2id$")
    assert "44" not in told
    assert "set the crew code" in told


@pytest.mark.parametrize("typed", [CODE, "NORTH44", " n o r t h 4 4 "])
def test_capitals_and_spaces_make_no_difference(database: Database, typed: str) -> None:
    set_code(database, CODE)

    carried = enter(database, typed)

    assert carried is not None
    assert is_let_in(database, carried)
    assert not is_let_in(database, "")
    assert not is_let_in(database, carried[:-1] + "x")


def test_another_code_locks_out_every_phone_that_knew_the_old_one(database: Database) -> None:
    set_code(database, CODE)
    carried = enter(database, CODE)
    assert carried is not None

    set_code(database, CODE)  # even the same one again

    assert not is_let_in(database, carried)


def test_taken_back_the_look_up_is_open_again(database: Database) -> None:
    set_code(database, CODE)
    with database.writing() as tx:
        remove_crew_code(tx, by=a_person(tx), now=NOW)
        remove_crew_code(tx, by=a_person(tx), now=NOW)

    with database.reading() as tx:
        assert not crew_code_asked(tx, agency_id=1)
        said = [one.body for one in entries(tx, "skerry") if "remove the crew code" in one.body]
        assert prove_ledger(tx).holds
    assert len(said) == 1


def test_guessing_is_slowed_down_for_one_address_and_not_for_the_next(database: Database) -> None:
    set_code(database, CODE)
    for _ in range(FREE_PER_ADDRESS):
        with pytest.raises(Refused):
            enter(database, "wrong one")

    with pytest.raises(TooMany, match="Too many wrong codes"):
        enter(database, CODE)
    assert enter(database, CODE, address="::2") is not None


def test_the_wait_ends(database: Database) -> None:
    set_code(database, CODE)
    for _ in range(FREE_PER_ADDRESS):
        with pytest.raises(Refused):
            enter(database, "wrong one")

    with database.writing() as tx:
        later = NOW + timedelta(seconds=2)
        agency = an_agency(tx)
        assert enter_crew_code(tx, agency=agency, code=CODE, address="::1", now=later) is not None


@pytest.mark.parametrize("code", ["", "ab 12", "x" * 41, "a\x00bcdefg"])
def test_a_code_that_is_none_is_refused(database: Database, code: str) -> None:
    with pytest.raises(Refused, match="6 to 40"):
        set_code(database, code)


@pytest.mark.parametrize("role", [Role.CREW, Role.FLEET_MANAGER, Role.AUTHOR])
def test_only_who_chooses_for_the_agency_sets_it(database: Database, role: Role) -> None:
    with database.writing() as tx, pytest.raises(NotAllowed):
        set_crew_code(tx, code=CODE, by=a_person(tx, role), now=NOW)
