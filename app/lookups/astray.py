"""Every alarm that strays now, with the report that says so; the measures count these."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.comparison import Direction
from app.domain.finding_filters import FindingFilter
from app.domain.finding_life import FindingKind, FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.domain.fleet import Verdicts, lean_of
from app.domain.natural_order import natural
from app.storage import devices_now
from app.storage.deviations import deviating
from app.storage.finding_lists import findings_of
from app.storage.past_reports import places_of_reports
from app.storage.told_reports import told_of

WORST = 5
_STANDS = tuple(
    status
    for status in FindingStatus
    if status not in (FindingStatus.VERIFIED, FindingStatus.CLOSED)
)
Place = tuple[str, str, str]
"""Device, preset and alarm."""


@dataclass(frozen=True)
class Astray:
    """One alarm, or option, of one preset. `report`: the latest that read it."""

    device: str
    preset: str
    alarm: str
    direction: Direction
    severity: Severity
    report: int

    @property
    def lean(self) -> str:
        return lean_of(self.direction)

    @property
    def place(self) -> Place:
        return self.device, self.preset, self.alarm


@dataclass(frozen=True)
class AlarmAstray:
    """On how many devices, and on how many presets in which direction."""

    alarm: str
    devices: int
    looser: int
    tighter: int
    other: int


def astray_now(tx: Session, *, agency_id: int, now: datetime) -> list[Astray]:
    """By the latest reading of each preset; what that one did not look at strays still where a
    finding of it is not verified. Notes are left out, and what waits for another look unless it
    is unsafe."""
    told = list(_by_readings(tx, agency_id))
    found = told + list(_still(tx, agency_id, {one.place for one in told}, now))
    return sorted(found, key=lambda one: (natural(one.device), natural(one.preset), one.alarm))


def _by_readings(tx: Session, agency_id: int) -> Iterator[Astray]:
    telling = devices_now.telling_now(tx, agency_id)
    found = deviating(tx, telling)
    for number, (device, preset) in places_of_reports(tx, found).items():
        yield from _of(found[number], device, preset, number, waits=telling[number])


def _of(
    verdicts: Verdicts, device: str, preset: str, report: int, *, waits: bool
) -> Iterator[Astray]:
    for alarm, (direction, severity) in verdicts.items():
        if severity is Severity.UNSAFE or (severity is not Severity.NOTE and not waits):
            yield Astray(device, preset, alarm, direction, severity, report)


def _still(tx: Session, agency_id: int, told: set[Place], now: datetime) -> Iterator[Astray]:
    wanted = FindingFilter(statuses=_STANDS, kind=FindingKind.HELD)
    standing = [
        one for one in findings_of(tx, agency_id, wanted, now=now) if _place(one) not in told
    ]
    read = _read_by_telling(tx, agency_id, standing)
    for one in standing:
        seen = read.get((one.device, one.preset))
        if seen is not None and one.alarm not in seen:
            yield Astray(*_place(one), one.direction, one.severity, one.report)


def _place(found: StoredFinding) -> Place:
    return found.device, found.preset, found.alarm


def _read_by_telling(
    tx: Session, agency_id: int, standing: Sequence[StoredFinding]
) -> dict[tuple[str, str], frozenset[str]]:
    """By device and preset, for devices that are in use, the alarms that the telling report looked
    at; of one that waits for another look none."""
    wanted = {(one.device, one.preset) for one in standing}
    telling = devices_now.telling_now(tx, agency_id) if wanted else {}
    places = places_of_reports(tx, telling)
    at = {number: place for number, place in places.items() if place in wanted}
    return {
        at[number]: frozenset() if telling[number] else told.asked
        for number, told in told_of(tx, at).items()
    }


def worst_alarms(found: Sequence[Astray]) -> tuple[AlarmAstray, ...]:
    """Those that stray on most devices."""
    leans = Counter((one.alarm, one.lean) for one in found)
    on: dict[str, set[str]] = {}
    for one in found:
        on.setdefault(one.alarm, set()).add(one.device)
    counted = [
        AlarmAstray(
            alarm,
            len(devices),
            leans[alarm, "looser"],
            leans[alarm, "tighter"],
            leans[alarm, "other"],
        )
        for alarm, devices in on.items()
    ]
    return tuple(sorted(counted, key=lambda one: (-one.devices, -one.looser, one.alarm))[:WORST])
