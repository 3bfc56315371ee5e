"""The fleet on one wall, and one device with everything that was ever read on it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypedDict

from sqlmodel import Session

from app.domain.changeover import Gap, InForce
from app.domain.devices import Device
from app.domain.errors import NotFound
from app.domain.finding_life import StoredFinding
from app.domain.fleet import StoredReport
from app.domain.known_devices import DeviceNow, DeviceStatus, Mark
from app.domain.rendering import rendered_presets
from app.domain.stretches import Stretch
from app.domain.tide_cells import TideCount, total
from app.domain.tide_marks import Scale
from app.exchange.stored_profiles import stored_profile
from app.lookups.changeovers import gaps, in_force_today
from app.lookups.judged import (
    Presets,
    ReportPage,
    page_beside,
    report_pages,
)
from app.lookups.policy_standing import PolicyStanding, standing_beside
from app.storage import devices, devices_now, findings, reports, revisions, tide_rows
from app.storage.agencies import agency_by_id

MOST_REPORTS = 20
MOST_LISTED = 500
MOST_DRAWN = 500
WHOLE = Stretch()


@dataclass(frozen=True)
class OnWall:
    """`gap`: to the revision in force today; None: it holds that, or there is none before it."""

    mark: Mark
    status: DeviceStatus
    gap: Gap | None = None


@dataclass(frozen=True)
class Start:
    """When a revision came into force: a line down the wall."""

    number: int
    at: datetime


@dataclass(frozen=True)
class Wall:
    """`counts` are of the whole fleet. `devices`: at most `MOST_LISTED` of the `matching` ones,
    what needs somebody first. `drawn`: every device of the station, or None: too many to draw.

    `check_interval`: past it a device is under water.
    """

    counts: tuple[TideCount, ...]
    drawn: tuple[tuple[Mark, DeviceStatus], ...] | None
    devices: tuple[OnWall, ...]
    matching: int
    starts: tuple[Start, ...]
    check_interval: timedelta
    now: datetime


def wall(
    tx: Session, *, agency_id: int, now: datetime, stretch: Stretch = WHOLE, first: int = 0
) -> Wall:
    """At most nine statements, however large the fleet; the values of listed devices alone."""
    choices = agency_by_id(tx, agency_id).choices
    when: _When = {"check_interval": choices.check_interval, "now": now}
    columns = Scale(choices.check_interval, now).columns
    counts = tide_rows.counts_of(tx, agency_id, columns=columns, **when)
    listed = tide_rows.marks_in(tx, agency_id, stretch, first=first, most=MOST_LISTED, **when)
    lines = revisions.lines_of(tx, agency_id)
    today = in_force_today(
        tx, agency_id=agency_id, lines=lines, changeover=choices.changeover, now=now
    )
    tags = [mark.device.tag for mark in listed]
    behind = {} if today is None else gaps(tx, agency_id=agency_id, today=today, tags=tags)
    return Wall(
        counts=tuple(counts),
        drawn=_drawn(tx, agency_id, counts, stretch, when),
        devices=tuple(
            OnWall(mark, status, behind.get(mark.device.tag))
            for mark, status in _judged(listed, when)
        ),
        matching=tide_rows.number_in(tx, agency_id, stretch, **when),
        starts=tuple(
            Start(line.number, line.in_force_at)
            for line in lines
            if line.came_into_force and line.in_force_at is not None and line.in_force_at <= now
        ),
        check_interval=choices.check_interval,
        now=now,
    )


class _When(TypedDict):
    check_interval: timedelta
    now: datetime


def _judged(marks: Iterable[Mark], when: _When) -> list[tuple[Mark, DeviceStatus]]:
    overdue_before = when["now"] - when["check_interval"]
    return [(mark, mark.status(overdue_before=overdue_before)) for mark in marks]


def _drawn(
    tx: Session, agency_id: int, counts: Iterable[TideCount], stretch: Stretch, when: _When
) -> tuple[tuple[Mark, DeviceStatus], ...] | None:
    at = Stretch(stretch.station)
    if total(one for one in counts if at.station in ("", one.station)) > MOST_DRAWN:
        return None
    return tuple(_judged(tide_rows.marks_in(tx, agency_id, at, most=MOST_DRAWN, **when), when))


@dataclass(frozen=True)
class PresetPage:
    """`latest` None: this preset was never read in a state that counts.

    `today`: that report beside the revision in force today, where another one judged it.
    """

    preset: str
    latest: ReportPage | None
    today: ReportPage | None = None


@dataclass(frozen=True)
class DevicePage:
    """`presets`: those of the revision in force, then others that were once read.

    `standing`: beside that revision's limits.
    """

    device: Device
    status: DeviceStatus
    now: DeviceNow | None
    in_force: int | None
    gap: Gap | None
    presets: tuple[PresetPage, ...]
    reports: tuple[ReportPage, ...]
    findings: tuple[StoredFinding, ...]
    standing: PolicyStanding


def device(tx: Session, *, agency_id: int, tag: str, now: datetime) -> DevicePage:
    """The latest reports first; findings that are not closed, the oldest first."""
    found = _device(tx, agency_id, tag)
    known = devices_now.device_now(tx, found.id)
    in_force, offered = _offered(tx, agency_id, found, now)
    read = {} if known is None else {preset.report: key for key, preset in known.presets.items()}
    recent = reports.reports_of(tx, found, limit=MOST_REPORTS)
    pages = _report_pages(tx, agency_id, recent, also=read)
    by_preset = {key: pages[number] for number, key in read.items()}
    lines = revisions.lines_of(tx, agency_id)
    agency = agency_by_id(tx, agency_id)
    choices = agency.choices
    today = in_force_today(
        tx, agency_id=agency_id, lines=lines, changeover=choices.changeover, now=now
    )
    held = next((line for line in lines if line.number == in_force), None)
    beside = standing_beside(tx, held, zone=agency.time_zone, now=now)
    standing = tuple(findings.findings_not_closed(tx, found))
    grave = any(one.not_verified_unsafe for one in standing)
    mark = Mark(found) if known is None else known.mark(found, unsafe_finding=grave)
    return DevicePage(
        device=found,
        status=mark.status(overdue_before=now - choices.check_interval),
        now=known,
        in_force=in_force,
        gap=None if today is None or known is None else today.gap(found.model, known.readings),
        presets=tuple(
            _preset_page(key, by_preset.get(key), today, beside)
            for key in dict.fromkeys([*offered, *by_preset])
        ),
        reports=tuple(pages[report.id] for report in recent),
        findings=standing,
        standing=beside,
    )


def _report_pages(
    tx: Session, agency_id: int, recent: Iterable[StoredReport], *, also: Iterable[int]
) -> dict[int, ReportPage]:
    found = reports.reports_by_id(tx, list(also)) | {report.id: report for report in recent}
    pages = report_pages(tx, agency_id=agency_id, reports=found.values())
    return {page.report.id: page for page in pages}


def _preset_page(
    preset: str, latest: ReportPage | None, today: InForce | None, beside: PolicyStanding
) -> PresetPage:
    if latest is None or today is None or latest.report.revision == today.number:
        return PresetPage(preset, latest)
    return PresetPage(preset, latest, page_beside(latest, today, beside.standing))


def report(tx: Session, *, agency_id: int, report_id: int) -> ReportPage:
    found = reports.find_report(tx, agency_id=agency_id, report_id=report_id)
    if found is None:
        raise NotFound("There is no such report.")
    return report_pages(tx, agency_id=agency_id, reports=[found])[0]


def _device(tx: Session, agency_id: int, tag: str) -> Device:
    return devices.device_tagged(tx, agency_id=agency_id, tag=tag)


def _offered(
    tx: Session, agency_id: int, found: Device, now: datetime
) -> tuple[int | None, Presets]:
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    if revision is None:
        return None, {}
    return revision.number, rendered_presets(stored_profile(revision.document), found.model)
