"""Finished drills, kept by what was answered and never by who: a day and no person."""

import json
from collections.abc import Mapping
from datetime import date

from sqlalchemy import UniqueConstraint, func
from sqlmodel import Field, Session, Text, col, select

from app.storage.base import NumberedRow, filled


class DrillRow(NumberedRow, table=True):
    __tablename__ = "drill"
    __table_args__ = (
        UniqueConstraint("revision_id", "seed"),
        filled("seed"),
        filled("answers"),
    )

    revision_id: int = Field(foreign_key="revision.id")
    seed: str
    answers: str = Field(sa_type=Text)
    finished_on: date


def add_drill(
    tx: Session, *, revision_id: int, seed: str, answers: Mapping[str, str], on: date
) -> None:
    kept = json.dumps(dict(answers), sort_keys=True)
    tx.add(DrillRow(revision_id=revision_id, seed=seed, answers=kept, finished_on=on))
    tx.flush()


def drills_on(tx: Session, *, revision_id: int, day: date) -> int:
    wanted = select(func.count()).where(
        col(DrillRow.revision_id) == revision_id, col(DrillRow.finished_on) == day
    )
    return tx.exec(wanted).one()


def drill_answers(tx: Session, *, revision_id: int, seed: str) -> dict[str, str] | None:
    """By case what was chosen; None where no such drill was finished."""
    wanted = select(DrillRow.answers).where(
        DrillRow.revision_id == revision_id, DrillRow.seed == seed
    )
    found = tx.exec(wanted).one_or_none()
    return None if found is None else _read(found)


def all_answers(tx: Session, revision_id: int) -> list[dict[str, str]]:
    """A drill each."""
    wanted = (
        select(DrillRow.answers)
        .where(DrillRow.revision_id == revision_id)
        .order_by(col(DrillRow.id))
    )
    return [_read(found) for found in tx.exec(wanted)]


def _read(kept: str) -> dict[str, str]:
    return {str(case): str(chosen) for case, chosen in json.loads(kept).items()}
