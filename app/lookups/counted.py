"""The readings behind a figure: of a month, and those in which somebody looked again."""

import re
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session

from app.domain.double_reading import Rereading
from app.domain.errors import NotFound
from app.domain.reading_sessions import ReadingSession
from app.storage.agencies import agency_by_id
from app.storage.past_reports import PastReport, counted_in, devices_read
from app.storage.settled_readings import counted_since, rereadings_since

MOST = 1000
_MONTH = re.compile(r"20\d\d-(0[1-9]|1[0-2])", re.ASCII)


@dataclass(frozen=True)
class MonthCounted:
    """Devices as the run chart counts them, and at most `MOST` of their readings."""

    label: str
    read: int
    off: int
    unsafe: int
    reports: tuple[PastReport, ...]


def month_counted(tx: Session, *, agency_id: int, label: str) -> MonthCounted:
    start, end = _month(label, ZoneInfo(agency_by_id(tx, agency_id).time_zone))
    [(read, off, unsafe)] = devices_read(tx, agency_id=agency_id, borders=(start, end))
    reports = counted_in(tx, agency_id=agency_id, since=start, until=end, most=MOST)
    return MonthCounted(label, read, off, unsafe, tuple(reports))


def _month(label: str, zone: ZoneInfo) -> tuple[datetime, datetime]:
    if not _MONTH.fullmatch(label):
        raise NotFound("There is no such month.")
    start = datetime(int(label[:4]), int(label[5:]), 1, tzinfo=zone)
    after = (start.year + 1, 1) if start.month == 12 else (start.year, start.month + 1)
    return start, start.replace(year=after[0], month=after[1])


@dataclass(frozen=True)
class LooksCounted:
    """`whole`: of all of them, also those beyond the first `MOST`."""

    whole: Rereading
    readings: tuple[tuple[ReadingSession, Rereading], ...]


def looks_counted(tx: Session, *, agency_id: int, since: datetime) -> LooksCounted:
    return LooksCounted(
        rereadings_since(tx, agency_id, since),
        tuple(counted_since(tx, agency_id, since, most=MOST)),
    )
