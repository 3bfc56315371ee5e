import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session

import app.actions.drills as drills
from app.actions.drills import finish_drill
from app.domain.errors import NotNow, Refused, TooMany
from app.domain.people import Person, Role
from app.domain.throttling import FORGOTTEN_AFTER, FREE_DRILLS
from app.lookups.drills import drill, practised
from app.storage.database import Database
from app.storage.ledger import entries
from tests.builders import DAY, NOW, a_document, a_person, a_signed_revision

SEED = "00112233445566ff"


def right_answers(tx: Session, seed: str, *, now: datetime = NOW) -> tuple[int, dict[str, str]]:
    """(revision in force, what the policy says of every case drawn)."""
    found = drill(tx, agency_id=a_person(tx).agency_id, seed=seed, now=now)
    return found.revision, {case.key: case.right for case in found.cases}


def finish(
    tx: Session,
    answers: dict[str, str],
    *,
    revision: int = 1,
    seed: str = SEED,
    by: Person | None = None,
    now: datetime = NOW,
    address: str = "127.0.0.1",
) -> None:
    finish_drill(
        tx,
        revision=revision,
        seed=seed,
        answers=answers,
        by=by or a_person(tx, Role.CREW),
        now=now,
        address=address,
    )


def finish_many(tx: Session, count: int, *, first: int = 1, **more: Any) -> None:
    for number in range(first, first + count):
        seed = f"{number:016x}"
        finish(tx, right_answers(tx, seed)[1], seed=seed, **more)


def test_a_finished_drill_counts_by_case_and_names_nobody(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        _, answers = right_answers(tx, SEED)
        missed = "unknown"
        finish(tx, answers | {missed: "adult"})

    with database.reading() as tx:
        agency = a_person(tx).agency_id
        found = practised(tx, agency_id=agency, number=None, now=NOW).results
        told = [json.loads(one.body) for one in entries(tx, "skerry")]

    assert (found.drills, found.asked, found.right) == (1, 20, 19)
    assert (found.cases[0].case.key, found.cases[0].right) == (missed, 0)
    assert [label for label, _ in found.cases[0].instead] == ["Adult, 13 y and over"]
    assert told[-1]["did"] == "practise"
    assert told[-1]["about"] == {"revision": 1, "cases": 20}


def test_a_drill_that_is_sent_again_counts_once(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        _, answers = right_answers(tx, SEED)
        finish(tx, answers)
        finish(tx, answers)
        agency = a_person(tx).agency_id

        assert practised(tx, agency_id=agency, number=1, now=NOW).results.drills == 1


def test_every_case_must_be_answered_by_one_of_its_choices(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        _, answers = right_answers(tx, SEED)
        some = dict(list(answers.items())[:18])

        with pytest.raises(Refused) as refused:
            finish(tx, some | {list(answers)[18]: "grown-up"})

    assert [fault.column for fault in refused.value.faults] == list(answers)[18:]


def test_a_revision_that_came_into_force_meanwhile_ends_the_drill(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        _, answers = right_answers(tx, SEED)
        a_signed_revision(tx, document=a_document({"spo2-low": 91}))

        with pytest.raises(NotNow, match="has changed"):
            finish(tx, answers)


def test_without_a_policy_there_is_nothing_to_practise(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx, in_force_at=NOW + DAY)

        with pytest.raises(NotNow, match="No policy is in force"):
            right_answers(tx, SEED)


def test_whoever_finishes_far_more_than_anybody_practises_waits(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        finish_many(tx, FREE_DRILLS)

        with pytest.raises(TooMany, match="the next one waits 1 s") as refused:
            finish_many(tx, 1, first=FREE_DRILLS + 1)
        assert refused.value.seconds == 1
        finish_many(tx, 1, first=FREE_DRILLS)  # sent again, it is no other one

        finish_many(tx, 1, first=FREE_DRILLS + 1, now=NOW + timedelta(seconds=1))
        with pytest.raises(TooMany, match="waits 2 s"):
            finish_many(tx, 1, first=FREE_DRILLS + 2, now=NOW + timedelta(seconds=1))
        later = NOW + timedelta(seconds=1)
        eddy = a_person(tx, Role.EDUCATOR)
        finish_many(tx, 1, first=FREE_DRILLS + 2, by=eddy, now=later)
        later += FORGOTTEN_AFTER
        finish_many(tx, FREE_DRILLS, first=FREE_DRILLS + 3, now=later)


def test_one_address_waits_whoever_stands_behind_it(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drills, "FREE_DRILLS_PER_ADDRESS", 2)
    with database.writing() as tx:
        a_signed_revision(tx)
        finish_many(tx, 2)
        educator = a_person(tx, Role.EDUCATOR)

        with pytest.raises(TooMany):
            finish_many(tx, 1, first=3, by=educator)
        finish_many(tx, 1, first=3, by=educator, address="127.0.0.2")


def test_an_agency_finishes_so_many_a_day(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drills, "MOST_DRILLS_A_DAY", 2)
    with database.writing() as tx:
        a_signed_revision(tx)
        finish_many(tx, 2)

        with pytest.raises(TooMany, match="tomorrow"):
            finish_many(tx, 1, first=3, by=a_person(tx, Role.EDUCATOR), address="127.0.0.2")
        finish_many(tx, 1, first=3, now=NOW + DAY)
