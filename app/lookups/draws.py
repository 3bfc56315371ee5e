"""A sample: which of its devices were read since it was drawn, and what that says of the fleet."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.agency_choices import AgencyChoices
from app.domain.device_reports import NotRead, Origin
from app.domain.devices import Device
from app.domain.draws import Statement, StoredDraw, statement
from app.domain.errors import NotFound
from app.domain.findings import Severity
from app.domain.fleet import was_read
from app.domain.rendering import rendered_presets
from app.exchange.stored_profiles import stored_profile
from app.lookups.judged import ReportPage, critical_alarms, report_pages
from app.storage import devices, draws, past_reports, revisions
from app.storage.agencies import agency_by_id

_BLIND = (Origin.FORM, Origin.SETTLED)
"""What crews send in by themselves is no random sample."""


@dataclass(frozen=True)
class DrawnDevice:
    """`reports` are the blind readings since the draw; `wanted` presets are still to be read.

    `device` None: it is no longer on the register.
    """

    tag: str
    device: Device | None
    wanted: tuple[str, ...]
    off: bool
    reports: tuple[int, ...]

    @property
    def read(self) -> bool:
        return bool(self.reports) and not self.wanted


@dataclass(frozen=True)
class DrawPage:
    stored: StoredDraw
    devices: tuple[DrawnDevice, ...]
    statement: Statement


def all_draws(tx: Session, *, agency_id: int) -> list[StoredDraw]:
    """The newest first."""
    return draws.draws_of(tx, agency_id)


def draw_page(tx: Session, *, agency_id: int, number: int, now: datetime) -> DrawPage:
    stored = draws.find_draw(tx, agency_id=agency_id, number=number)
    if stored is None:
        raise NotFound("There is no such sample.")
    choices = agency_by_id(tx, agency_id).choices
    register = {one.tag: one for one in devices.devices_of(tx, agency_id)}
    read = _read_since(tx, agency_id, stored)
    offered = _offered(tx, agency_id, now, {one.model for one in register.values()})
    found = tuple(
        _drawn(tag, register.get(tag), read[tag], offered, choices) for tag in stored.draw.chosen
    )
    off = {one.tag: one.off for one in found if one.read or one.off}
    return DrawPage(stored, found, statement(stored.draw, read=off, confidence=stored.confidence))


def _read_since(tx: Session, agency_id: int, stored: StoredDraw) -> dict[str, list[ReportPage]]:
    """Blind readings that count, the first of each preset and state: what was found, not fixed."""
    found = past_reports.reports_since(
        tx, agency_id=agency_id, devices=stored.draw.chosen, since=stored.drawn_at
    )
    blind = [one for one in found if one.origin in _BLIND]
    first: dict[tuple[str, str, str], ReportPage] = {}
    for page in report_pages(tx, agency_id=agency_id, reports=blind):
        if page.counts:
            report = page.report
            first.setdefault((report.device, report.preset, report.state_read), page)
    by_device: dict[str, list[ReportPage]] = defaultdict(list)
    for (device, *_), page in first.items():
        by_device[device].append(page)
    return by_device


def _offered(
    tx: Session, agency_id: int, now: datetime, models: Iterable[str]
) -> dict[str, tuple[str, ...]]:
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    if revision is None:
        return {}
    profile = stored_profile(revision.document)
    return {model: tuple(rendered_presets(profile, model)) for model in models}


def _drawn(
    tag: str,
    device: Device | None,
    read: Sequence[ReportPage],
    offered: dict[str, tuple[str, ...]],
    choices: AgencyChoices,
) -> DrawnDevice:
    whole = {page.report.preset for page in read if _is_whole(page, choices)}
    presets = offered.get(device.model, ()) if device is not None else ()
    return DrawnDevice(
        tag,
        device,
        tuple(preset for preset in presets if preset not in whole),
        any(_is_off(page) for page in read),
        tuple(page.report.id for page in read),
    )


def _is_whole(page: ReportPage, choices: AgencyChoices) -> bool:
    if page.rendered is None:
        return False
    wanted = [alarm for alarm in critical_alarms(page.rendered) if choices.is_critical(alarm)]
    return all(was_read(page.report.readings.get(alarm, NotRead())) for alarm in wanted)


def _is_off(page: ReportPage) -> bool:
    return any(severity is not Severity.NOTE for _, severity in page.report.verdicts.values())
