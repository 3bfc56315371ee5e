from datetime import datetime
from typing import Any

import pytest
from pwdlib import PasswordHash
from sqlmodel import Session, select

from app.actions.passwords import NOBODYS, matches
from app.actions.sign_ins import check_password, keep_signed_in, sign_in, sign_out
from app.domain.errors import MarchstoneError, NotSignedIn, Refused, TooMany
from app.domain.people import Person, Role
from app.lookups.sign_ins import signed_in
from app.storage.database import Database
from app.storage.ledger import LedgerRow
from app.storage.sign_in_failures import count_failure, internet_address
from app.storage.sign_ins import SignInRow
from tests.builders import DAY, HOUR, MINUTE, NOW, PASSWORD, a_person, an_agency
from tests.storage.ledgers import deeds

SECOND = MINUTE / 60
ADDRESS = "192.0.2.7"


def person_of(tx: Session, *, token: str, now: datetime) -> Person | None:
    found = signed_in(tx, token=token, now=now)
    return None if found is None else found.person


def sign_in_as_dana(
    tx: Session,
    password: str = PASSWORD,
    *,
    now: datetime = NOW,
    **instead: str,
) -> str:
    return sign_in(
        tx,
        agency=instead.get("agency", "skerry"),
        username=instead.get("username", "dana"),
        address=instead.get("address", ADDRESS),
        password=password,
        now=now,
    )


def fail(database: Database, times: int, **how: Any) -> None:
    for _ in range(times):
        with pytest.raises(NotSignedIn), database.writing() as tx:
            sign_in_as_dana(tx, "not the password", **how)


def test_a_token_leads_back_to_the_person(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        token = sign_in_as_dana(tx, username=" Dana ")

    with database.reading() as tx:
        assert person_of(tx, token=token, now=NOW) == dana
        assert person_of(tx, token=token[:-1], now=NOW) is None


def test_the_token_itself_is_not_stored(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)

    with database.reading() as tx:
        row = tx.exec(select(SignInRow)).one()
        bodies = "".join(tx.exec(select(LedgerRow.body)))
    assert token not in f"{row.model_dump()} {bodies}"


def test_signing_in_and_out_is_in_the_ledger(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)
        sign_out(tx, token=token, now=NOW)
        sign_out(tx, token=token, now=NOW)

    with database.reading() as tx:
        assert deeds(tx)[-2:] == ["sign in", "sign out"]


@pytest.mark.parametrize(
    "how",
    [
        {"password": "not the password"},
        {"username": "nobody"},
        {"agency": "elsewhere"},
        {"agency": "nowhere"},
    ],
)
def test_whatever_is_wrong_the_answer_is_the_same(database: Database, how: dict[str, Any]) -> None:
    with database.writing() as tx:
        a_person(tx)
        an_agency(tx, "elsewhere")

    with pytest.raises(NotSignedIn) as refused, database.writing() as tx:
        sign_in_as_dana(tx, **how)

    assert refused.value.message == "The agency, the username or the password is wrong."


def test_nobody_can_sign_in_to_an_account_that_is_not_there() -> None:
    assert matches("no account has this password", NOBODYS)
    assert not matches("no account has this password", None)


def test_the_service_hashes_with_as_much_work_as_for_nobody(real_hashing: PasswordHash) -> None:
    work = "$argon2id$v=19$m=65536,t=3,p=4$"

    assert real_hashing.hash(PASSWORD).startswith(work)
    assert NOBODYS.startswith(work)


def test_signing_out_ends_it(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)
        sign_out(tx, token=token, now=NOW)

    with database.reading() as tx:
        assert person_of(tx, token=token, now=NOW) is None


def test_it_ends_after_its_hours_however_busy(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)
        keep_signed_in(tx, token=token, now=NOW + 12 * HOUR - SECOND)

    with database.reading() as tx:
        assert person_of(tx, token=token, now=NOW + 12 * HOUR - SECOND) is not None
        assert person_of(tx, token=token, now=NOW + 12 * HOUR) is None


def test_it_ends_when_idle(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)
        keep_signed_in(tx, token=token, now=NOW + 50 * MINUTE)

    with database.reading() as tx:
        assert person_of(tx, token=token, now=NOW + 110 * MINUTE - SECOND) is not None
        assert person_of(tx, token=token, now=NOW + 110 * MINUTE) is None


def test_renewal_is_asked_for_once_a_minute(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        token = sign_in_as_dana(tx)

    with database.reading() as tx:
        early = signed_in(tx, token=token, now=NOW + MINUTE - SECOND)
        late = signed_in(tx, token=token, now=NOW + MINUTE)
    assert early is not None
    assert late is not None
    assert (early.renew, late.renew) == (False, True)


def test_expired_sign_ins_are_forgotten(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
        sign_in_as_dana(tx)
        sign_in_as_dana(tx, now=NOW + DAY)

        assert len(tx.exec(select(SignInRow)).all()) == 1


def test_after_five_failures_even_the_right_password_waits(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
    fail(database, 5)

    with pytest.raises(TooMany, match="1 s"), database.writing() as tx:
        sign_in_as_dana(tx)

    with database.writing() as tx:
        assert sign_in_as_dana(tx, now=NOW + SECOND)


def test_four_failures_cost_nothing_and_success_forgets_them(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
    for _ in range(2):
        fail(database, 4)
        with database.writing() as tx:
            assert sign_in_as_dana(tx)


def test_the_wait_grows(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
    fail(database, 5)
    with pytest.raises(NotSignedIn), database.writing() as tx:
        sign_in_as_dana(tx, "wrong again", now=NOW + SECOND)

    with pytest.raises(TooMany, match="2 s"), database.writing() as tx:
        sign_in_as_dana(tx, now=NOW + SECOND)


def test_one_account_does_not_slow_another(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx, Role.MEDICAL_DIRECTOR)
        a_person(tx, Role.CREW)
    fail(database, 5)

    with database.writing() as tx:
        assert sign_in_as_dana(tx, username="cruz")


def test_an_address_that_tries_many_accounts_is_slowed_too(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx)
    with database.writing() as tx:
        for _ in range(18):
            count_failure(tx, subject=internet_address(ADDRESS), now=NOW)
    fail(database, 1, username="guess1")
    fail(database, 1, username="guess2")

    with pytest.raises(TooMany), database.writing() as tx:
        sign_in_as_dana(tx)
    with database.writing() as tx:
        assert sign_in_as_dana(tx, address="192.0.2.8")


def test_the_password_is_asked_once_more(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        check_password(tx, by=dana, password=PASSWORD, now=NOW)

    with pytest.raises(Refused) as refused, database.writing() as tx:
        check_password(tx, by=dana, password="not the password", now=NOW)

    assert refused.value.faults[0].column == "password"


def test_guessing_while_signed_in_is_slowed_as_well(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
    seen: list[type[MarchstoneError]] = []
    for _ in range(6):
        with pytest.raises(MarchstoneError) as refused, database.writing() as tx:
            check_password(tx, by=dana, password="not the password", now=NOW)
        seen.append(type(refused.value))

    assert seen == [Refused] * 5 + [TooMany]


def test_the_right_password_forgets_the_slips_before_it(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
    fail(database, 4)
    with database.writing() as tx:
        check_password(tx, by=dana, password=PASSWORD, now=NOW)
    fail(database, 4)

    with database.writing() as tx:
        check_password(tx, by=dana, password=PASSWORD, now=NOW)
