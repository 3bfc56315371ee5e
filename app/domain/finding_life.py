"""What may happen to a finding next, and by when. One table; it also prints the diagram."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from app.domain.comparison import Direction
from app.domain.errors import NotNow
from app.domain.findings import Severity


class FindingStatus(StrEnum):
    OPEN = "open"
    CONTAINED = "contained"
    CORRECTED = "corrected"
    VERIFIED = "verified"
    CLOSED = "closed"


@dataclass(frozen=True)
class Step:
    """What it is called on a button, and what its note must tell; empty: no note is needed."""

    words: str
    ask: str = ""


LIFE: dict[FindingStatus, dict[FindingStatus, Step]] = {
    FindingStatus.OPEN: {
        FindingStatus.CONTAINED: Step("contain", "What keeps patients away from it until then?"),
    },
    FindingStatus.CONTAINED: {
        FindingStatus.CORRECTED: Step("correct", "What was set, and why had it strayed?"),
    },
    FindingStatus.CORRECTED: {FindingStatus.VERIFIED: Step("verify")},
    FindingStatus.VERIFIED: {FindingStatus.CLOSED: Step("close")},
    FindingStatus.CLOSED: {},
}


def check_step(status: FindingStatus, to: FindingStatus) -> Step:
    step = LIFE[status].get(to)
    if step is None:
        raise NotNow(f"A finding that is {status.value} cannot become {to.value}.")
    return step


@dataclass(frozen=True)
class Stamp:
    person_id: int
    name: str
    at: datetime


@dataclass(frozen=True)
class StoredFinding:
    """Report `opened_by` found it first, `report` last; `verified_by_report` found it conform."""

    id: int
    device: str
    station: str
    model: str
    preset: str
    alarm: str
    direction: Direction
    severity: Severity
    status: FindingStatus
    opened_at: datetime
    opened_by: int
    report: int
    note: str
    contained: Stamp | None = None
    corrected: Stamp | None = None
    verified: Stamp | None = None
    closed: Stamp | None = None
    verified_by_report: int | None = None

    @property
    def due_at(self) -> datetime | None:
        """When the next step is due; None once it is verified."""
        if self.status in (FindingStatus.VERIFIED, FindingStatus.CLOSED):
            return None
        times = due_times(self.severity, self.direction)
        wait = times.contain if self.status is FindingStatus.OPEN else times.verify
        return self.opened_at + wait


def is_recurrence(finding: StoredFinding, read_at: datetime) -> bool:
    """Found again although it had been corrected before: back to the beginning."""
    return finding.corrected is not None and read_at > finding.corrected.at


@dataclass(frozen=True)
class DueTimes:
    """From the opening, both."""

    contain: timedelta
    verify: timedelta


_UNSAFE = DueTimes(timedelta(hours=1), timedelta(hours=24))
_LOOSER = DueTimes(timedelta(hours=12), timedelta(days=7))
_TIGHTER = DueTimes(timedelta(days=30), timedelta(days=30))


def due_times(severity: Severity, direction: Direction) -> DueTimes:
    """Common practice: before the next patient, in the same shift, within the month."""
    if severity is Severity.UNSAFE:
        return _UNSAFE
    looser = direction in (Direction.LOOSER, Direction.SWITCHED_OFF)
    return _LOOSER if looser else _TIGHTER
