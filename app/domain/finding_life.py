"""What may happen to a finding next, and by when. One table; it also prints the diagram."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from app.domain.acceptances import Acceptance
from app.domain.agency_choices import AgencyChoices
from app.domain.comparison import Direction
from app.domain.errors import NotNow
from app.domain.finding_causes import CauseCode
from app.domain.findings import Severity


class FindingStatus(StrEnum):
    OPEN = "open"
    CONTAINED = "contained"
    CORRECTED = "corrected"
    VERIFIED = "verified"
    CLOSED = "closed"


class FindingKind(StrEnum):
    """`HELD`: what a device holds for the next patient. `USE`: a crew went beyond its latitude."""

    HELD = "held"
    USE = "use"


class Audible(StrEnum):
    """Whether an alarm reached the crew's seat. Nobody knows before somebody has tried it there."""

    YES = "yes"
    NO = "no"
    NOT_TESTED = "not-tested"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Step:
    """What it is called on a button, and what its note must tell; empty: no note is needed."""

    words: str
    ask: str = ""


Life = dict[FindingStatus, dict[FindingStatus, Step]]
LIFE: Life = {
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
LIFE_OF_USE: Life = {
    FindingStatus.OPEN: {
        FindingStatus.CLOSED: Step("close", "What was said with the crew, and what came of it?"),
    },
    FindingStatus.CLOSED: {},
}
"""Nothing on the device is to be mended: the people are spoken with."""

ACCEPTABLE = (FindingStatus.OPEN, FindingStatus.CONTAINED, FindingStatus.CORRECTED)
"""From these the medical director may accept it for a time."""


SLIP = Step("close", "What was it, as far as anybody knows?")
"""Further looks did not bear out what the first one found, so nothing is to be mended."""


def closes_as_slip(
    status: FindingStatus, to: FindingStatus, kind: FindingKind, cause: CauseCode | None
) -> bool:
    early = status in (FindingStatus.OPEN, FindingStatus.CONTAINED)
    slip = cause is CauseCode.READING_ERROR and kind is FindingKind.HELD
    return early and slip and to is FindingStatus.CLOSED


def steps_from(status: FindingStatus, kind: FindingKind) -> dict[FindingStatus, Step]:
    life = LIFE if kind is FindingKind.HELD else LIFE_OF_USE
    return life.get(status, {})


def check_step(
    status: FindingStatus, to: FindingStatus, kind: FindingKind = FindingKind.HELD
) -> Step:
    step = steps_from(status, kind).get(to)
    if step is None:
        raise NotNow(f"A finding that is {status.value} cannot become {to.value}.")
    return step


@dataclass(frozen=True)
class Stamp:
    person_id: int
    name: str
    at: datetime


@dataclass(frozen=True)
class Owner:
    person_id: int
    name: str


@dataclass(frozen=True)
class StoredFinding:
    """Report `opened_by` found it first, `report` last; `verified_by_report` found it conform.

    The due times were set at its opening. `recurred_from`: a finding of the same alarm that had
    been closed not long before. `quarantined`: nobody may touch its device.
    """

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
    contain_due_at: datetime
    verify_due_at: datetime
    kind: FindingKind = FindingKind.HELD
    contained: Stamp | None = None
    corrected: Stamp | None = None
    verified: Stamp | None = None
    closed: Stamp | None = None
    verified_by_report: int | None = None
    owner: Owner | None = None
    acceptance: Acceptance | None = None
    cause: CauseCode | None = None
    recurrences: int = 0
    recurred_from: int | None = None
    heard: Audible | None = None
    seen: Audible | None = None
    quarantined: bool = False

    @property
    def due_at(self) -> datetime | None:
        """When the next step is due; None once it is verified. Not while it is accepted."""
        if self.status in (FindingStatus.VERIFIED, FindingStatus.CLOSED):
            return None
        is_open = self.status is FindingStatus.OPEN
        due = self.contain_due_at if is_open else self.verify_due_at
        return due if self.acceptance is None else max(due, self.acceptance.ends_at)

    @property
    def not_verified_unsafe(self) -> bool:
        done = self.status in (FindingStatus.VERIFIED, FindingStatus.CLOSED)
        return self.severity is Severity.UNSAFE and self.kind is FindingKind.HELD and not done

    def overdue(self, now: datetime) -> bool:
        return self.due_at is not None and self.due_at < now

    def accepted(self, now: datetime) -> Acceptance | None:
        """The director's acceptance while it stands."""
        if self.acceptance is None or self.status not in ACCEPTABLE:
            return None
        return self.acceptance if self.acceptance.stands(now) else None

    @property
    def asks_for_seat(self) -> bool:
        """Whether the alarm reaches the crew must be told before this can be closed."""
        unsafe = self.severity is Severity.UNSAFE and self.kind is FindingKind.HELD
        return unsafe and self.heard is None


def is_recurrence(finding: StoredFinding, read_at: datetime) -> bool:
    """Found again although it had been corrected before: back to the beginning."""
    return finding.corrected is not None and read_at > finding.corrected.at


RECURS_WITHIN = timedelta(days=90)
"""Common practice: what strays again so soon after it was closed was not mended."""

LOOK_AGAIN, LOOK_LAST = timedelta(days=30), timedelta(days=90)
"""After the closing, common practice: does what was done still hold?"""


@dataclass(frozen=True)
class DueTimes:
    """From the opening, both."""

    contain: timedelta
    verify: timedelta


def due_times(
    severity: Severity, direction: Direction, choices: AgencyChoices | None = None
) -> DueTimes:
    """As the agency chose; its defaults are before the next patient, in the same shift, within
    the month."""
    chosen = choices or AgencyChoices()
    if severity is Severity.UNSAFE:
        return _hours(chosen.unsafe_contain_hours, chosen.unsafe_verify_hours)
    if severity is Severity.OFF_PROTOCOL and direction in _LOOSER:
        return _hours(chosen.looser_contain_hours, chosen.looser_verify_hours)
    return _hours(chosen.tighter_verify_hours, chosen.tighter_verify_hours)


_LOOSER = (Direction.LOOSER, Direction.SWITCHED_OFF)


def _hours(contain: int, verify: int) -> DueTimes:
    return DueTimes(timedelta(hours=contain), timedelta(hours=verify))
