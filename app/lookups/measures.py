"""What the quality officer reports: conformity, what strays most, how long mending takes."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session

from app.domain.finding_life import FindingKind, StoredFinding
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.measures import (
    Point,
    RunChart,
    Share,
    Times,
    Waiting,
    run_chart,
    share_of_fleet,
    times,
)
from app.domain.tide_cells import total
from app.lookups.astray import AlarmAstray, astray_now, worst_alarms
from app.storage import findings, tide_rows
from app.storage.agencies import agency_by_id
from app.storage.past_reports import devices_read

MONTHS = 24


@dataclass(frozen=True)
class Mending:
    """Of the findings of one severity, of what devices hold, opened since `MeasuresPage.since`."""

    severity: Severity
    contained: Times
    corrected: Times
    verified: Times


@dataclass(frozen=True)
class MeasuresPage:
    """`holding` counts judged devices only, with exact bounds for the whole fleet.

    `overdue`: not read within the check interval, `never` among them; `oldest` is the longest ago.
    """

    now: datetime
    since: datetime
    fleet: int
    statuses: dict[DeviceStatus, int]
    holding: Share
    looser: int
    tighter: int
    other: int
    worst: tuple[AlarmAstray, ...]
    overdue: int
    never: int
    oldest: Mark | None
    check_interval_days: int
    mending: tuple[Mending, ...]
    months_holding: RunChart
    months_unsafe: RunChart


def measures(tx: Session, *, agency_id: int, now: datetime, since: datetime) -> MeasuresPage:
    agency = agency_by_id(tx, agency_id)
    interval = agency.choices.check_interval
    kinds = tide_rows.counts_of(tx, agency_id, columns=(), check_interval=interval, now=now)
    statuses = {status: total(kinds, status=status) for status in DeviceStatus}
    fleet = total(kinds)
    oldest = tide_rows.longest_unread(tx, agency_id, before=now - interval)
    opened = findings.findings_opened_since(tx, agency_id, since)
    astray = astray_now(tx, agency_id=agency_id, now=now)
    leans = Counter(one.lean for one in astray)
    holding, unsafe = _by_month(tx, agency_id, now, ZoneInfo(agency.time_zone))
    return MeasuresPage(
        now=now,
        since=since,
        fleet=fleet,
        statuses=statuses,
        holding=share_of_fleet(
            statuses[DeviceStatus.HOLDS], fleet - statuses[DeviceStatus.NOT_JUDGED], fleet
        ),
        looser=leans["looser"],
        tighter=leans["tighter"],
        other=leans["other"],
        worst=worst_alarms(astray),
        overdue=total(kinds, overdue=True),
        never=sum(kind.devices for kind in kinds if kind.column is None),
        oldest=oldest,
        check_interval_days=agency.choices.check_interval_days,
        mending=tuple(_mending(severity, opened, now) for severity in _ACTED_ON),
        months_holding=holding,
        months_unsafe=unsafe,
    )


_ACTED_ON = (Severity.UNSAFE, Severity.OFF_PROTOCOL)


def _mending(severity: Severity, opened: Sequence[StoredFinding], now: datetime) -> Mending:
    """Of what devices hold; what was closed as a slip of reading is mended no more."""
    mine = [one for one in opened if one.severity is severity and one.kind is FindingKind.HELD]

    def until(stamp: str) -> Times:
        ends = [getattr(one, stamp) for one in mine]
        return times(
            [
                Waiting(
                    one.opened_at,
                    None if end is None else end.at,
                    None if one.closed is None else one.closed.at,
                )
                for one, end in zip(mine, ends, strict=True)
            ],
            now=now,
        )

    return Mending(severity, until("contained"), until("corrected"), until("verified"))


def _by_month(
    tx: Session, agency_id: int, now: datetime, zone: ZoneInfo
) -> tuple[RunChart, RunChart]:
    """The month that runs is not over and is left out."""
    holding, unsafe = [], []
    borders = _months(now.astimezone(zone))
    found = devices_read(tx, agency_id=agency_id, borders=borders)
    for start, (read, off, grave) in zip(borders[:-1], found, strict=True):
        label = f"{start:%Y-%m}"
        holding.append(Point(label, read - off, read))
        unsafe.append(Point(label, grave, read))
    while holding and not holding[0].of:  # before the first reading there is nothing to draw
        holding, unsafe = holding[1:], unsafe[1:]
    return run_chart(holding), run_chart(unsafe)


def _months(now: datetime) -> list[datetime]:
    """Their beginnings, the oldest first, by the agency's calendar; the last one's is the end."""
    borders = [now.replace(day=1, hour=0, minute=0, second=0, microsecond=0)]
    for _ in range(MONTHS):
        borders.append(_month_before(borders[-1]))
    return borders[::-1]


def _month_before(start: datetime) -> datetime:
    year, month = (start.year - 1, 12) if start.month == 1 else (start.year, start.month - 1)
    return start.replace(year=year, month=month)
