from typing import Any

import pytest
from sqlmodel import Session

from app.actions.revision_comments import add_comment, resolve_comment
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.people import Role
from app.domain.revision_comments import Comment
from app.lookups.policy import open_revision
from app.storage.database import Database
from tests.actions.test_waivers import sign
from tests.builders import (
    NOW,
    PRESET,
    a_draft,
    a_person,
    a_revision_in_review,
    a_signed_revision,
    an_agency,
    olu,
)
from tests.storage.ledgers import bodies

CELL = (PRESET, "heart-rate-high")
SPEAKERS = (Role.AUTHOR, Role.REVIEWER, Role.MEDICAL_DIRECTOR)


def comment(tx: Session, number: int, **instead: Any) -> Comment:
    wanted: dict[str, Any] = {
        "text": "170 is low for a crying child",
        "cell": CELL,
        "by": a_person(tx, Role.REVIEWER),
        "now": NOW,
    }
    return add_comment(tx, number=number, **(wanted | instead))


def resolve(tx: Session, number: int, which: int, **instead: Any) -> None:
    wanted: dict[str, Any] = {
        "done": "kept; see the source",
        "by": a_person(tx, Role.AUTHOR),
        "now": NOW,
    }
    resolve_comment(tx, number=number, comment=which, **(wanted | instead))


def held(tx: Session, number: int) -> tuple[Comment, ...]:
    return open_revision(tx, agency_id=an_agency(tx).id, number=number, now=NOW).comments


def test_a_comment_is_kept_with_its_cell_and_its_resolution(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx).number
        said = comment(tx, number)
        resolve(tx, number, said.id)

        (found,) = held(tx, number)
        told = [body["about"] for body in bodies(tx)[-2:]]

    assert (found.category, found.alarm) == CELL
    assert (found.by_name, found.text) == ("Ravi", "170 is low for a crying child")
    assert found.resolution is not None
    assert (found.resolution.by_name, found.resolution.done) == ("Anna", "kept; see the source")
    assert told[0]["text"] == "170 is low for a crying child"
    assert told[1]["done"] == "kept; see the source"
    assert {one["alarm"] for one in told} == {"heart-rate-high"}


def test_a_comment_may_be_on_the_whole_revision(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx).number
        comment(tx, number, cell=None)

        (found,) = held(tx, number)

    assert (found.category, found.alarm) == (None, None)


def test_an_unresolved_comment_blocks_the_signature_and_a_resolved_one_stays(
    database: Database,
) -> None:
    with database.writing() as tx:
        number = a_revision_in_review(tx).number
        said = comment(tx, number)
        with pytest.raises(Refused, match="comment of Ravi not resolved"):
            sign(tx, number)
        resolve(tx, number, said.id)

        sign(tx, number)

        assert [one.id for one in held(tx, number)] == [said.id]


def test_nothing_is_said_of_what_is_signed(database: Database) -> None:
    with database.writing() as tx:
        number = a_signed_revision(tx).number

        with pytest.raises(NotNow, match="before it is signed"):
            comment(tx, number)


def test_a_comment_is_resolved_once(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx).number
        said = comment(tx, number)
        resolve(tx, number, said.id)

        with pytest.raises(NotNow, match="already"):
            resolve(tx, number, said.id)
        with pytest.raises(NotFound):
            resolve(tx, number, said.id + 1)


@pytest.mark.parametrize("cell", [("giant", "asystole"), (PRESET, "snoring")])
def test_there_must_be_such_a_cell(sqlite_database: Database, cell: tuple[str, str]) -> None:
    with sqlite_database.writing() as tx:
        number = a_draft(tx).number

        with pytest.raises(NotFound):
            comment(tx, number, cell=cell)


def test_words_must_not_be_empty(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        number = a_draft(tx).number
        said = comment(tx, number)

        with pytest.raises(Refused):
            comment(tx, number, text=" ")
        with pytest.raises(Refused):
            resolve(tx, number, said.id, done="")


@pytest.mark.parametrize("role", sorted(Role))
def test_those_who_work_on_the_policy_speak_and_nobody_else(
    sqlite_database: Database, role: Role
) -> None:
    with sqlite_database.writing() as tx:
        number = a_draft(tx).number
        said = comment(tx, number)
        somebody = a_person(tx, role)
        if role in SPEAKERS:
            comment(tx, number, by=somebody)
            resolve(tx, number, said.id, by=somebody)
        else:
            with pytest.raises(NotAllowed):
                comment(tx, number, by=somebody)
            with pytest.raises(NotAllowed):
                resolve(tx, number, said.id, by=somebody)


def test_an_outsider_finds_nothing_to_comment_on(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx).number
        said = comment(tx, number)

        with pytest.raises(NotFound):
            comment(tx, number, by=olu(tx))
        with pytest.raises(NotFound):
            resolve(tx, number, said.id, by=olu(tx))


def test_a_comment_of_another_revision_is_not_found(database: Database) -> None:
    with database.writing() as tx:
        first, second = a_draft(tx).number, a_draft(tx).number
        said = comment(tx, first)

        with pytest.raises(NotFound):
            resolve(tx, second, said.id)
