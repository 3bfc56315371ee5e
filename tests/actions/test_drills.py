import json
from datetime import datetime

import pytest
from sqlmodel import Session

from app.actions.drills import finish_drill
from app.domain.errors import NotNow, Refused
from app.domain.people import Role
from app.lookups.drills import drill, practised
from app.storage.database import Database
from app.storage.ledger import entries
from tests.builders import DAY, NOW, a_document, a_person, a_signed_revision

SEED = "00112233445566ff"


def right_answers(tx: Session, seed: str, *, now: datetime = NOW) -> tuple[int, dict[str, str]]:
    """(revision in force, what the policy says of every case drawn)."""
    found = drill(tx, agency_id=a_person(tx).agency_id, seed=seed, now=now)
    return found.revision, {case.key: case.right for case in found.cases}


def finish(tx: Session, answers: dict[str, str], *, revision: int = 1, seed: str = SEED) -> None:
    by = a_person(tx, Role.CREW)
    finish_drill(tx, revision=revision, seed=seed, answers=answers, by=by, now=NOW)


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
