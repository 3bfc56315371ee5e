"""Work that is done outside requests. This row is what holds; a queue only says that it is there.

Whoever does a piece of work stores its outcome in the same transaction: it is done and told as
done, or neither.
"""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, LargeBinary, Text
from sqlmodel import Field, Session, col, select

from app.domain.errors import Fault
from app.domain.long_work import Failure, LongWork, WorkKind, WorkState
from app.domain.people import Person, Program, Scope
from app.storage.base import NumberedRow, one_of
from app.storage.people import PersonRow, is_closed, person_by_id

_WAITING, _RUNNING = WorkState.WAITING.value, WorkState.RUNNING.value
KEPT = 200
"""How many of an agency that are over are still told; what they did stands in the ledger."""


class LongWorkRow(NumberedRow, table=True):
    """`scopes`: of the program that asked, None for a person. `content` goes when it is over."""

    __tablename__ = "long_work"
    __table_args__ = (
        one_of("kind", WorkKind),
        one_of("state", WorkState),
        CheckConstraint("tries >= 0", name="tries_not_negative"),
        CheckConstraint(
            "(state IN ('done', 'failed')) = (ended_at IS NOT NULL)", name="ended_when_over"
        ),
        CheckConstraint("(state = 'done') = (outcome IS NOT NULL)", name="outcome_when_done"),
        CheckConstraint("(state = 'failed') = (failure IS NOT NULL)", name="failure_when_failed"),
    )

    agency_id: int = Field(foreign_key="agency.id", index=True)
    asked_by: int = Field(foreign_key="person.id")
    scopes: str | None = None
    kind: str
    about: str = Field(sa_type=Text)
    content: bytes | None = Field(default=None, sa_type=LargeBinary)
    state: str = _WAITING
    tries: int = 0
    asked_at: datetime
    began_at: datetime | None = None
    ended_at: datetime | None = None
    outcome: str | None = Field(default=None, sa_type=Text)
    failure: str | None = Field(default=None, sa_type=Text)


_ROW = LongWorkRow
_TOLD: tuple[Any, ...] = (
    _ROW.id,
    _ROW.agency_id,
    _ROW.asked_by,
    PersonRow.name,
    _ROW.kind,
    _ROW.about,
    _ROW.state,
    _ROW.tries,
    _ROW.asked_at,
    _ROW.began_at,
    _ROW.ended_at,
    _ROW.outcome,
    _ROW.failure,
)


def add_work(
    tx: Session,
    *,
    kind: WorkKind,
    about: dict[str, Any],
    content: bytes | None,
    by: Person,
    now: datetime,
) -> int:
    _forget_old(tx, by.agency_id)
    scopes = " ".join(sorted(by.scopes)) if isinstance(by, Program) else None
    row = LongWorkRow(
        agency_id=by.agency_id,
        asked_by=by.id,
        scopes=scopes,
        kind=kind.value,
        about=json.dumps(about),
        content=content,
        asked_at=now,
    )
    tx.add(row)
    tx.flush()
    return row.saved_id


def _forget_old(tx: Session, agency_id: int) -> None:
    over = sa.select(col(_ROW.id)).where(
        col(_ROW.agency_id) == agency_id, col(_ROW.ended_at).is_not(None)
    )
    kept = over.order_by(col(_ROW.id).desc()).limit(KEPT)
    tx.execute(sa.delete(_ROW).where(col(_ROW.id).in_(over), col(_ROW.id).not_in(kept)))


def work_by_id(tx: Session, number: int) -> LongWork | None:
    found = tx.execute(_select().where(col(_ROW.id) == number)).one_or_none()
    return None if found is None else _work(found)


def work_of_agency(tx: Session, agency_id: int, *, most: int) -> list[LongWork]:
    """The newest first."""
    wanted = _select().where(col(_ROW.agency_id) == agency_id).order_by(col(_ROW.id).desc())
    return [_work(found) for found in tx.execute(wanted.limit(most))]


def unfinished(tx: Session, *, states: Sequence[WorkState] = tuple(WorkState)) -> list[int]:
    """The oldest first, whosever they are."""
    wanted = select(_ROW.id).where(
        col(_ROW.ended_at).is_(None), col(_ROW.state).in_([state.value for state in states])
    )
    return [number for number in tx.exec(wanted.order_by(col(_ROW.id))) if number is not None]


def oldest_waiting(tx: Session) -> datetime | None:
    return tx.exec(select(sa.func.min(_ROW.asked_at)).where(_ROW.state == _WAITING)).one()


def who_asked(tx: Session, number: int) -> Person:
    """With the roles of now, none where the account is closed; a program with the scopes it had."""
    asked_by, scopes = tx.exec(select(_ROW.asked_by, _ROW.scopes).where(_ROW.id == number)).one()
    person = person_by_id(tx, asked_by)
    if is_closed(tx, asked_by):
        return replace(person, roles=frozenset())
    if scopes is None:
        return person
    return Program(**vars(person), scopes=frozenset(map(Scope, scopes.split())))


def content_of(tx: Session, number: int) -> bytes:
    found = tx.exec(select(_ROW.content).where(_ROW.id == number)).one()
    return found or b""


def begin(tx: Session, number: int, *, now: datetime) -> int | None:
    """Which try it is; None where nothing is left to do."""
    changed = (
        sa.update(_ROW)
        .where(col(_ROW.id) == number, col(_ROW.ended_at).is_(None))
        .values(state=_RUNNING, began_at=now, tries=_ROW.tries + 1)
        .returning(col(_ROW.tries))
    )
    return tx.execute(changed).scalar_one_or_none()


def hold(tx: Session, number: int, *, attempt: int) -> bool:
    """False where another one has begun it since, who then is the one to do it."""
    changed = (
        sa.update(_ROW)
        .where(col(_ROW.id) == number, col(_ROW.state) == _RUNNING, col(_ROW.tries) == attempt)
        .values(state=_RUNNING)
        .returning(col(_ROW.id))
    )
    return tx.execute(changed).scalar_one_or_none() is not None


def put_back(tx: Session, number: int, *, attempt: int) -> None:
    wanted = sa.update(_ROW).where(
        col(_ROW.id) == number, col(_ROW.state) == _RUNNING, col(_ROW.tries) == attempt
    )
    tx.execute(wanted.values(state=_WAITING, tries=_ROW.tries - 1))


def finish(tx: Session, number: int, *, outcome: dict[str, Any], now: datetime) -> None:
    done = {"state": WorkState.DONE.value, "outcome": json.dumps(outcome)}
    _end(tx, number, now, **done)


def give_up(tx: Session, number: int, *, failure: Failure, now: datetime) -> None:
    faults = [[one.reason, one.line, one.column] for one in failure.faults]
    told = json.dumps({"message": failure.message, "faults": faults})
    _end(tx, number, now, state=WorkState.FAILED.value, failure=told)


def _end(tx: Session, number: int, now: datetime, **values: Any) -> None:
    wanted = sa.update(_ROW).where(col(_ROW.id) == number, col(_ROW.ended_at).is_(None))
    tx.execute(wanted.values(ended_at=now, content=None, **values))


def _select() -> sa.Select[Any]:
    return sa.select(*_TOLD).join(PersonRow, col(PersonRow.id) == col(_ROW.asked_by))


def _work(found: Any) -> LongWork:
    row = dict(found._mapping)
    outcome, failure = row.pop("outcome"), row.pop("failure")
    return LongWork(
        by_name=row.pop("name"),
        kind=WorkKind(row.pop("kind")),
        about=json.loads(row.pop("about")),
        state=WorkState(row.pop("state")),
        outcome=None if outcome is None else json.loads(outcome),
        failure=None if failure is None else _failure(json.loads(failure)),
        **row,
    )


def _failure(told: dict[str, Any]) -> Failure:
    faults = tuple(Fault(reason, line, column) for reason, line, column in told["faults"])
    return Failure(told["message"], faults)
