import json
from datetime import datetime

from sqlmodel import Field, Session, Text, col, select

from app.domain.agencies import Agency
from app.domain.agency_choices import AgencyChoices
from app.storage.base import NumberedRow, filled


class AgencyRow(NumberedRow, table=True):
    __tablename__ = "agency"
    __table_args__ = (
        filled("key"),
        filled("name"),
        filled("time_zone"),
        filled("choices"),
    )

    key: str = Field(unique=True)
    name: str
    time_zone: str
    created_at: datetime
    choices: str = Field(sa_type=Text)


def add_agency(tx: Session, *, key: str, name: str, time_zone: str, now: datetime) -> Agency:
    row = AgencyRow(
        key=key,
        name=name,
        time_zone=time_zone,
        created_at=now,
        choices=json.dumps({}),
    )
    tx.add(row)
    tx.flush()
    return _agency(row)


def agency_by_key(tx: Session, key: str) -> Agency | None:
    row = tx.exec(select(AgencyRow).where(AgencyRow.key == key)).one_or_none()
    return None if row is None else _agency(row)


def agency_by_id(tx: Session, agency_id: int) -> Agency:
    return _agency(tx.get_one(AgencyRow, agency_id))


def change_choices(tx: Session, agency_id: int, choices: AgencyChoices) -> None:
    tx.get_one(AgencyRow, agency_id).choices = json.dumps(choices.kept(), sort_keys=True)
    tx.flush()


def lock_policy(tx: Session, agency_id: int) -> None:
    """One change of policy at a time in an agency; SQLite writers are alone anyway."""
    wanted = select(AgencyRow.id).where(col(AgencyRow.id) == agency_id)
    tx.exec(wanted.with_for_update(key_share=True)).one()


def _agency(row: AgencyRow) -> Agency:
    return Agency(
        id=row.saved_id,
        key=row.key,
        name=row.name,
        time_zone=row.time_zone,
        choices=AgencyChoices.of(json.loads(row.choices)),
    )
