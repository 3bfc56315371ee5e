"""How files of other systems are read, remembered for the next one."""

from datetime import datetime

from sqlmodel import Session

from app.domain.column_maps import ColumnMap, check_map
from app.domain.errors import NotFound
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.reports_csv import OPTIONAL, REQUIRED
from app.storage import column_maps, ledger


def save_column_map(tx: Session, found: ColumnMap, *, by: Person, now: datetime) -> None:
    """In the place of an earlier one of this source, or of the same header."""
    check_may(by, Deed.UPLOAD_READINGS)
    check_map(found, required=REQUIRED, known=(*REQUIRED, *OPTIONAL))
    column_maps.save_map(tx, found, by=by, now=now)
    ledger.append(
        tx, agency=by.agency, did="map columns", by=by.username, at=now, about=found.kept()
    )


def drop_column_map(tx: Session, *, source: str, by: Person, now: datetime) -> None:
    check_may(by, Deed.UPLOAD_READINGS)
    if not column_maps.drop_map(tx, agency_id=by.agency_id, source=source):
        raise NotFound("There is no such column map.")
    ledger.append(
        tx,
        agency=by.agency,
        did="forget a column map",
        by=by.username,
        at=now,
        about={"source": source},
    )
