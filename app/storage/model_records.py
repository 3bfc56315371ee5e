"""What was recorded of device models; a newer record stands before the older ones."""

import json
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Field, Session, Text, col, select

from app.domain.model_records import (
    Happening,
    ModelFacts,
    ModelRecord,
    Outcome,
    grid_document,
    grid_from,
)
from app.domain.people import Person
from app.storage.base import NumberedRow, filled


class ModelRecordRow(NumberedRow, table=True):
    """`facts` as JSON, but for what is looked for by its own name."""

    __tablename__ = "model_record"
    __table_args__ = (
        sa.Index(None, "agency_id", "key"),
        filled("key"),
        filled("facts"),
        filled("name"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    key: str
    facts: str = Field(sa_type=Text)
    tested_on: date | None
    recorded_at: datetime
    person_id: int = Field(foreign_key="person.id")
    name: str


def add_record(tx: Session, key: str, facts: ModelFacts, *, by: Person, now: datetime) -> None:
    tx.add(
        ModelRecordRow(
            agency_id=by.agency_id,
            key=key,
            facts=json.dumps(facts_document(facts), ensure_ascii=False, sort_keys=True),
            tested_on=facts.tested_on,
            recorded_at=now,
            person_id=by.id,
            name=by.name,
        )
    )
    tx.flush()


def latest_records(tx: Session, agency_id: int) -> dict[str, ModelRecord]:
    """By key, the newest of each, in the order of keys."""
    last = (
        select(func.max(ModelRecordRow.id))
        .where(ModelRecordRow.agency_id == agency_id)
        .group_by(col(ModelRecordRow.key))
    )
    wanted = select(ModelRecordRow).where(col(ModelRecordRow.id).in_(last))
    return {row.key: _record(row) for row in tx.exec(wanted.order_by(col(ModelRecordRow.key)))}


def records_of(tx: Session, *, agency_id: int, key: str) -> list[ModelRecord]:
    """The newest first."""
    wanted = select(ModelRecordRow).where(
        ModelRecordRow.agency_id == agency_id, ModelRecordRow.key == key
    )
    return [_record(row) for row in tx.exec(wanted.order_by(col(ModelRecordRow.id).desc()))]


def facts_document(facts: ModelFacts) -> dict[str, Any]:
    """All but the day of the test."""
    held = facts.retention_min
    return {
        "label": facts.label,
        "presets": list(facts.presets),
        "grid": grid_document(facts.grid),
        "etco2_unit": facts.etco2_unit,
        "retention_min": None if held is None else str(held),
        "reverts": {one.value: outcome.value for one, outcome in facts.reverts.items()},
        "software": facts.software,
        "tested_by": facts.tested_by,
        "audible": facts.audible,
        "note": facts.note,
    }


def _record(row: ModelRecordRow) -> ModelRecord:
    kept = json.loads(row.facts)
    held = kept["retention_min"]
    facts = ModelFacts(
        label=kept["label"],
        presets=tuple(kept["presets"]),
        grid=grid_from(kept["grid"]),
        etco2_unit=kept["etco2_unit"],
        retention_min=None if held is None else Decimal(held),
        reverts={Happening(one): Outcome(outcome) for one, outcome in kept["reverts"].items()},
        software=kept["software"],
        tested_on=row.tested_on,
        tested_by=kept["tested_by"],
        audible=kept["audible"],
        note=kept["note"],
    )
    return ModelRecord(row.key, facts, row.recorded_at, row.name)
