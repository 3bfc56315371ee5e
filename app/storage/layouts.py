"""Which (preset, alarm) each place of `vals` stands for; written once, shared, never changed."""

import hashlib
import json
from collections.abc import Sequence

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, Text, select

from app.domain.fleet import Column
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.engine import insert_into


class LayoutRow(NumberedRow, table=True):
    __tablename__ = "layout"
    __table_args__ = (
        UniqueConstraint("agency_id", "fingerprint"),
        sha256_hex("fingerprint"),
        filled("columns"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    fingerprint: str
    columns: str = Field(sa_type=Text)


def layout_for(tx: Session, *, agency_id: int, columns: Sequence[Column]) -> int:
    text = json.dumps(columns, ensure_ascii=False)
    fingerprint = hashlib.sha256(text.encode()).hexdigest()
    known: dict[tuple[int, str], int] = tx.info.setdefault(_KNOWN, {})
    if (agency_id, fingerprint) not in known:
        known[agency_id, fingerprint] = _kept(tx, agency_id, fingerprint, text)
    return known[agency_id, fingerprint]


_KNOWN = "layouts"
"""Of one transaction: a layout never changes."""


def _kept(tx: Session, agency_id: int, fingerprint: str, text: str) -> int:
    values = {"agency_id": agency_id, "fingerprint": fingerprint, "columns": text}
    wanted = select(LayoutRow.id).where(
        LayoutRow.agency_id == agency_id, LayoutRow.fingerprint == fingerprint
    )
    found = tx.exec(wanted).first()
    if found is None:
        tx.execute(insert_into(tx, LayoutRow).values(**values).on_conflict_do_nothing())
        found = tx.exec(wanted).one()
    if found is None:
        raise RuntimeError("a layout has a number once it is stored")
    return found


def columns_from(text: str) -> list[Column]:
    return [(preset, alarm) for preset, alarm in json.loads(text)]
