"""The fleet on one wall, and one device with everything that was ever read on it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.changeover import Gap, InForce
from app.domain.devices import Device
from app.domain.errors import NotFound
from app.domain.finding_life import StoredFinding
from app.domain.known_devices import DeviceNow, DeviceStatus, Mark
from app.domain.rendering import rendered_presets
from app.exchange.stored_profiles import stored_profile
from app.lookups.changeovers import gaps, in_force_today
from app.lookups.judged import (
    Presets,
    ReportPage,
    critical_alarms,
    page_beside,
    report_pages,
)
from app.storage import devices, devices_now, findings, reports, revisions
from app.storage.agencies import agency_by_id

MOST_REPORTS = 20


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
    """`check_interval`: past it a device is under water."""

    devices: tuple[OnWall, ...]
    starts: tuple[Start, ...]
    check_interval: timedelta
    now: datetime


def wall(tx: Session, *, agency_id: int, now: datetime) -> Wall:
    """Three statements, six once a second revision is in force, however large the fleet."""
    choices = agency_by_id(tx, agency_id).choices
    marks = devices_now.marks_of(tx, agency_id)
    lines = revisions.lines_of(tx, agency_id)
    today = in_force_today(
        tx, agency_id=agency_id, lines=lines, changeover=choices.changeover, now=now
    )
    behind = {} if today is None else gaps(tx, agency_id=agency_id, today=today)
    return Wall(
        devices=tuple(
            OnWall(
                mark,
                mark.status(overdue_before=now - choices.check_interval),
                behind.get(mark.device.tag),
            )
            for mark in marks
        ),
        starts=tuple(
            Start(line.number, line.in_force_at)
            for line in lines
            if line.came_into_force and line.in_force_at is not None and line.in_force_at <= now
        ),
        check_interval=choices.check_interval,
        now=now,
    )


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
    """`presets`: those of the revision in force, then others that were once read."""

    device: Device
    status: DeviceStatus
    now: DeviceNow | None
    in_force: int | None
    gap: Gap | None
    presets: tuple[PresetPage, ...]
    reports: tuple[ReportPage, ...]
    findings: tuple[StoredFinding, ...]


def device(tx: Session, *, agency_id: int, tag: str, now: datetime) -> DevicePage:
    """The latest reports first; findings that are not closed, the oldest first."""
    found = _device(tx, agency_id, tag)
    known = devices_now.device_now(tx, found.id)
    in_force, offered = _offered(tx, agency_id, found, now)
    read = {} if known is None else {preset.report: key for key, preset in known.presets.items()}
    latest = reports.reports_by_id(tx, list(read))
    recent = reports.reports_of(tx, found, limit=MOST_REPORTS)
    everything = latest | {report.id: report for report in recent}
    pages = {
        page.report.id: page
        for page in report_pages(tx, agency_id=agency_id, reports=everything.values())
    }
    by_preset = {key: pages[number] for number, key in read.items()}
    lines = revisions.lines_of(tx, agency_id)
    choices = agency_by_id(tx, agency_id).choices
    today = in_force_today(
        tx, agency_id=agency_id, lines=lines, changeover=choices.changeover, now=now
    )
    mark = Mark(found) if known is None else known.mark(found)
    return DevicePage(
        device=found,
        status=mark.status(overdue_before=now - choices.check_interval),
        now=known,
        in_force=in_force,
        gap=None if today is None or known is None else today.gap(found.model, known.readings),
        presets=tuple(
            _preset_page(key, by_preset.get(key), today)
            for key in dict.fromkeys([*offered, *by_preset])
        ),
        reports=tuple(pages[report.id] for report in recent),
        findings=tuple(findings.findings_not_closed(tx, found)),
    )


def _preset_page(preset: str, latest: ReportPage | None, today: InForce | None) -> PresetPage:
    if latest is None or today is None or latest.report.revision == today.number:
        return PresetPage(preset, latest)
    return PresetPage(preset, latest, page_beside(latest, today))


def report(tx: Session, *, agency_id: int, report_id: int) -> ReportPage:
    found = reports.find_report(tx, agency_id=agency_id, report_id=report_id)
    if found is None:
        raise NotFound("There is no such report.")
    return report_pages(tx, agency_id=agency_id, reports=[found])[0]


@dataclass(frozen=True)
class BlindPreset:
    """What is to be read, and nothing of what is signed: expecting a value is seeing it."""

    preset: str
    alarms: tuple[str, ...]


@dataclass(frozen=True)
class ReadingForm:
    """`presets` is empty where no policy is in force."""

    device: Device
    presets: tuple[BlindPreset, ...]


def reading_form(tx: Session, *, agency_id: int, tag: str, now: datetime) -> ReadingForm:
    found = _device(tx, agency_id, tag)
    _, offered = _offered(tx, agency_id, found, now)
    return ReadingForm(
        found,
        tuple(BlindPreset(key, tuple(critical_alarms(preset))) for key, preset in offered.items()),
    )


def _device(tx: Session, agency_id: int, tag: str) -> Device:
    found = devices.find_device(tx, agency_id=agency_id, tag=tag)
    if found is None:
        raise NotFound(f"There is no device {tag}.")
    return found


def _offered(
    tx: Session, agency_id: int, found: Device, now: datetime
) -> tuple[int | None, Presets]:
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    if revision is None:
        return None, {}
    return revision.number, rendered_presets(stored_profile(revision.document), found.model)
