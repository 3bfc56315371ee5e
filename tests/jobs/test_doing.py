"""Long work is done and told as done, or neither, however often somebody begins it."""

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session

import app.jobs.doing as doing
from app.actions.long_work import (
    ask_reaudit,
    ask_to_look,
    ask_to_take,
    ask_to_take_held,
    begin_work,
    hold_work,
    pack,
)
from app.actions.report_files import take_file
from app.domain.errors import Conflict, NotAllowed, NotFound, NotNow
from app.domain.long_work import LONG_WAIT, MOST_TRIES, LongWork, WorkState
from app.domain.people import Program, Role, Scope
from app.jobs.doing import Later, do_work
from app.lookups.ledger import prove_ledger
from app.lookups.long_work import all_work_seen_by, work_seen_by
from app.storage.database import Database
from app.storage.long_work import KEPT, LongWorkRow, content_of
from app.storage.troubles import StorageBusy
from tests.builders import (
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.reading_files import BAD_ROWS, a_file, a_whole_file, digest

FILE = a_whole_file(as_signed(heart_rate_high=limit(200)))
LATER = NOW + timedelta(minutes=1)
REFUSED = a_file(BAD_ROWS["unknown device"][0])


@pytest.fixture
def house(database: Database) -> Database:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_device(tx)
    return database


def asked(database: Database, content: bytes = FILE) -> int:
    with database.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        stored = pack(BytesIO(content))
        return ask_to_take(tx, content=stored, fingerprint=digest(content), by=femi, now=NOW)


def do(database: Database, number: int) -> None:
    do_work(database, number, clock=lambda: LATER)


def work(database: Database, number: int) -> LongWork:
    with database.writing() as tx:
        return work_seen_by(tx, number=number, person=a_person(tx, Role.FLEET_MANAGER))


def counted(database: Database, table: str = "report") -> int:
    with database.reading() as tx:
        return int(tx.execute(sa.text(f"SELECT count(*) FROM {table}")).scalar_one())


def test_what_is_asked_for_waits_and_changes_nothing(house: Database) -> None:
    found = work(house, asked(house))

    assert (found.state, found.tries, found.outcome) == (WorkState.WAITING, 0, None)
    assert found.by_name == "Femi"
    assert counted(house) == 0


def test_done_it_tells_what_came_of_it_and_keeps_the_file_no_longer(house: Database) -> None:
    number = asked(house)

    do(house, number)

    found = work(house, number)
    assert found.state is WorkState.DONE
    assert found.outcome == {"new": 1, "known": 0, "readings": len(as_signed()), "refused": 0}
    assert (found.began_at, found.ended_at) == (LATER, LATER)
    assert counted(house) == 1
    with house.reading() as tx:
        assert content_of(tx, number) == b""
        assert prove_ledger(tx).holds


def test_done_again_it_does_nothing(house: Database) -> None:
    number = asked(house)
    do(house, number)
    before = work(house, number)

    do(house, number)

    assert work(house, number) == before


def test_the_same_file_asked_for_twice_is_known_the_second_time(house: Database) -> None:
    first, second = asked(house), asked(house)
    do(house, first)

    do(house, second)

    outcome = work(house, second).outcome
    assert outcome is not None
    assert (outcome["new"], outcome["known"]) == (0, 1)


def test_a_refused_file_is_told_row_by_row_and_nothing_is_stored(house: Database) -> None:
    number = asked(house, REFUSED)

    do(house, number)

    found = work(house, number)
    assert found.state is WorkState.FAILED
    assert found.failure is not None
    (fault,) = found.failure.faults
    assert str(fault).startswith("line 2, device: there is no such device")
    assert (counted(house), counted(house, "finding")) == (0, 0)


def test_what_a_dead_process_had_begun_is_begun_again(house: Database) -> None:
    number = asked(house)
    with house.writing() as tx:
        begin_work(tx, number=number, now=NOW)
    assert work(house, number).state is WorkState.RUNNING

    do(house, number)

    found = work(house, number)
    assert (found.state, found.tries) == (WorkState.DONE, 2)


def test_whoever_passed_for_dead_and_comes_back_changes_nothing(house: Database) -> None:
    number = asked(house)
    with house.writing() as tx:
        slow = begin_work(tx, number=number, now=NOW)
        begin_work(tx, number=number, now=LATER)

    assert slow is not None
    with pytest.raises(Conflict), house.writing() as tx:
        hold_work(tx, slow)


def test_interrupted_too_often_it_is_told_as_failed(house: Database) -> None:
    number = asked(house)
    with house.writing() as tx:
        for _ in range(MOST_TRIES):
            assert begin_work(tx, number=number, now=NOW) is not None

    do(house, number)

    found = work(house, number)
    assert found.state is WorkState.FAILED
    assert found.failure is not None
    assert "interrupted" in found.failure.message
    assert counted(house) == 0


def test_busy_data_make_it_wait_and_the_try_does_not_count(
    house: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = asked(house)

    def busy(*_: object, **__: object) -> None:
        raise StorageBusy("The data are busy.")

    monkeypatch.setattr(doing, "take_file", busy)
    with pytest.raises(Later):
        do(house, number)

    found = work(house, number)
    assert (found.state, found.tries) == (WorkState.WAITING, 0)


def test_a_fault_of_ours_is_told_as_one_and_nothing_is_half_done(
    house: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = asked(house)

    def half(tx: Session, **also: object) -> None:
        take_file(tx, **also)  # type: ignore[arg-type]
        raise RuntimeError("in the midst of it")

    monkeypatch.setattr(doing, "take_file", half)
    do(house, number)

    assert work(house, number).state is WorkState.FAILED
    assert counted(house) == 0


def test_a_reaudit_is_done_the_same_way(house: Database) -> None:
    with house.writing() as tx:
        a_report(tx)
        number = ask_reaudit(tx, by=a_person(tx, Role.FLEET_MANAGER), now=NOW)

    do(house, number)

    outcome = work(house, number).outcome
    assert outcome == {"devices": 1, "opened": 0, "graver": 0, "left": 0}


def test_who_lost_the_right_meanwhile_changes_nothing(house: Database) -> None:
    number = asked(house)
    with house.writing() as tx:
        tx.execute(sa.text("UPDATE person_role SET role = 'crew' WHERE role = 'fleet-manager'"))

    do(house, number)

    with house.writing() as tx:
        director = a_person(tx, Role.MEDICAL_DIRECTOR)
        with pytest.raises(NotFound):
            work_seen_by(tx, number=number, person=director)  # it is no re-audit
    assert counted(house) == 0


def test_a_program_acts_with_the_scopes_it_had(house: Database) -> None:
    with house.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        program = Program(**vars(femi) | {"roles": frozenset()}, scopes=frozenset(Scope))
        stored = pack(BytesIO(FILE))
        number = ask_to_take(tx, content=stored, fingerprint=digest(FILE), by=program, now=NOW)

    do(house, number)

    assert work(house, number).state is WorkState.DONE


def test_a_held_file_is_asked_for_once_and_only_as_it_was_shown(house: Database) -> None:
    held: dict[str, Any] = {
        "name": "round.csv",
        "content": pack(BytesIO(FILE)),
        "fingerprint": digest(FILE),
    }
    with house.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        look = ask_to_look(tx, **held, by=femi, now=NOW)
        with pytest.raises(NotNow, match="still being looked at"):
            ask_to_take_held(tx, fingerprint=digest(FILE), good_rows=False, by=femi, now=NOW)

    do(house, look)
    with house.writing() as tx:
        number = ask_to_take_held(tx, fingerprint=digest(FILE), good_rows=False, by=femi, now=NOW)

        with pytest.raises(NotNow):
            ask_to_take_held(tx, fingerprint=digest(FILE), good_rows=False, by=femi, now=NOW)

    do(house, number)
    assert work(house, number).about["name"] == "round.csv"
    assert counted(house) == 1


def test_only_who_may_do_it_may_ask_for_it_and_see_it(house: Database) -> None:
    number = asked(house)
    with house.writing() as tx:
        cruz, femi = a_person(tx, Role.CREW), a_person(tx, Role.FLEET_MANAGER)
        outsider = olu(tx)

        for person in (cruz, outsider):
            assert all_work_seen_by(tx, person=person) == []
            with pytest.raises(NotFound):
                work_seen_by(tx, number=number, person=person)
        with pytest.raises(NotAllowed):
            ask_to_take(tx, content=b"", fingerprint=digest(FILE), by=cruz, now=NOW)
        with pytest.raises(NotAllowed):
            ask_reaudit(tx, by=cruz, now=NOW)
        assert [one.id for one in all_work_seen_by(tx, person=femi)] == [number]


def test_after_a_while_nobody_seems_to_work(house: Database) -> None:
    found = work(house, asked(house))

    assert not found.nobody_works(NOW + LONG_WAIT)
    assert found.nobody_works(NOW + LONG_WAIT + timedelta(seconds=1))


def test_only_the_last_that_are_over_are_kept(house: Database) -> None:
    with house.writing() as tx:
        femi = a_person(tx, Role.FLEET_MANAGER)
        row = {
            "agency_id": femi.agency_id,
            "asked_by": femi.id,
            "kind": "re-audit",
            "about": "{}",
            "state": "done",
            "tries": 1,
            "asked_at": NOW,
            "ended_at": NOW,
            "outcome": "{}",
        }
        tx.execute(sa.insert(LongWorkRow), [row for _ in range(KEPT + 3)])

    asked(house)

    assert counted(house, "long_work") == KEPT + 1
