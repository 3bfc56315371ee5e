"""The history of the register: what was changed of a device, by whom, when and why."""

import json
from datetime import datetime

from sqlmodel import Field, Session, Text, col, select

from app.domain.device_changes import Changed, ChangeKind, DeviceChange
from app.domain.people import Person
from app.storage.base import NumberedRow, filled, one_of
from app.storage.devices import DeviceRow
from app.storage.people import names_of


class DeviceChangeRow(NumberedRow, table=True):
    """`changes` as JSON: field → [before, after]."""

    __tablename__ = "device_change"
    __table_args__ = (one_of("kind", ChangeKind), filled("changes"), filled("name"))

    device_id: int = Field(foreign_key="device.id", index=True)
    changed_at: datetime
    person_id: int = Field(foreign_key="person.id")
    name: str
    kind: str
    changes: str = Field(sa_type=Text)
    why: str = Field(sa_type=Text)
    worker_id: int | None = Field(default=None, foreign_key="person.id")


def add_change(
    tx: Session,
    done: Changed,
    *,
    why: str = "",
    worker_id: int | None = None,
    by: Person,
    now: datetime,
) -> None:
    """After a cause the device needs a blind reading."""
    device_id = done.after.id
    tx.add(
        DeviceChangeRow(
            device_id=device_id,
            changed_at=now,
            person_id=by.id,
            name=by.name,
            kind=done.kind.value,
            changes=json.dumps(done.changes, ensure_ascii=False),
            why=why,
            worker_id=worker_id,
        )
    )
    if done.cause:
        row = tx.get_one(DeviceRow, device_id)
        row.cleared_at = None
        row.cause_at, row.cause, row.worker_id = now, done.kind.value, worker_id
    tx.flush()


def changes_of(tx: Session, device_id: int) -> list[DeviceChange]:
    """The newest first."""
    wanted = select(DeviceChangeRow).where(DeviceChangeRow.device_id == device_id)
    order = col(DeviceChangeRow.changed_at).desc(), col(DeviceChangeRow.id).desc()
    rows = tx.exec(wanted.order_by(*order)).all()
    workers = names_of(tx, {row.worker_id for row in rows if row.worker_id is not None})
    return [
        DeviceChange(
            kind=ChangeKind(row.kind),
            at=row.changed_at,
            by=row.name,
            changes={name: (old, new) for name, (old, new) in json.loads(row.changes).items()},
            why=row.why,
            worker="" if row.worker_id is None else workers[row.worker_id],
        )
        for row in rows
    ]
