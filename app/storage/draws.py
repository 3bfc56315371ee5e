"""Samples: which devices were drawn, and everything it takes to draw them again."""

import json
from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction

from sqlalchemy import CheckConstraint, UniqueConstraint, func
from sqlmodel import Field, Session, Text, col, select

from app.domain.draws import Draw, Listed, StoredDraw, Strata
from app.domain.people import Person
from app.storage.base import NumberedRow, filled, one_of, sha256_hex
from app.storage.people import PersonRow


class DrawRow(NumberedRow, table=True):
    """`listed` and `chosen` as JSON; `confidence` as a fraction, exactly as it was asked for."""

    __tablename__ = "draw"
    __table_args__ = (
        UniqueConstraint("agency_id", "number"),
        one_of("strata", Strata),
        filled("listed"),
        filled("chosen"),
        filled("seed"),
        filled("confidence"),
        sha256_hex("fingerprint"),
        CheckConstraint("number > 0", name="number_positive"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    number: int
    drawn_at: datetime
    drawn_by: int = Field(foreign_key="person.id")
    purpose: str
    strata: str
    confidence: str
    seed: str
    fingerprint: str
    listed: str = Field(sa_type=Text)
    chosen: str = Field(sa_type=Text)


def add_draw(
    tx: Session,
    drawn: Draw,
    *,
    purpose: str,
    strata: Strata,
    confidence: Fraction,
    by: Person,
    now: datetime,
) -> int:
    taken = select(func.max(DrawRow.number)).where(DrawRow.agency_id == by.agency_id)
    number = (tx.exec(taken).one() or 0) + 1
    tx.add(
        DrawRow(
            agency_id=by.agency_id,
            number=number,
            drawn_at=now,
            drawn_by=by.id,
            purpose=purpose,
            strata=strata.value,
            confidence=str(confidence),
            seed=drawn.seed,
            fingerprint=drawn.fingerprint,
            listed=json.dumps([[one.tag, one.stratum] for one in drawn.listed], ensure_ascii=False),
            chosen=json.dumps(drawn.chosen, ensure_ascii=False),
        )
    )
    tx.flush()
    return number


def draws_of(tx: Session, agency_id: int) -> list[StoredDraw]:
    """The newest first."""
    return _draws(tx, DrawRow.agency_id == agency_id)


def find_draw(tx: Session, *, agency_id: int, number: int) -> StoredDraw | None:
    found = _draws(tx, DrawRow.agency_id == agency_id, DrawRow.number == number)
    return next(iter(found), None)


def _draws(tx: Session, *conditions: bool) -> list[StoredDraw]:
    wanted = (
        select(DrawRow, PersonRow.name)
        .join(PersonRow, col(PersonRow.id) == col(DrawRow.drawn_by))
        .where(*conditions)
        .order_by(col(DrawRow.number).desc())
    )
    return [_stored(row, name) for row, name in tx.exec(wanted)]


def _stored(row: DrawRow, name: str) -> StoredDraw:
    listed: Sequence[tuple[str, str]] = json.loads(row.listed)
    return StoredDraw(
        number=row.number,
        drawn_at=row.drawn_at,
        drawn_by=name,
        purpose=row.purpose,
        strata=Strata(row.strata),
        confidence=Fraction(row.confidence),
        draw=Draw(
            tuple(Listed(tag, stratum) for tag, stratum in listed),
            tuple(json.loads(row.chosen)),
            row.seed,
            row.fingerprint,
        ),
    )
