"""Holding everything that is known of the fleet against the policy and the bounds of today."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.actions.reports import ruling_at
from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import InForce
from app.domain.errors import NotNow
from app.domain.finding_events import EventKind, FindingEvent
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.reaudits import Reaudit, UnsafeToday, reaudited
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, findings, ledger
from app.storage.agencies import lock_policy
from app.storage.finding_events import add_event
from app.storage.held_blocks import HeldBlock, held_blocks
from app.storage.reaudit_rows import standing_findings, standing_number, telling_by_preset
from app.storage.reaudit_runs import add_run
from app.storage.reports import reports_by_id

MOST_OPENED = 500
"""Findings of one run; each is somebody's work, and everybody else waits meanwhile."""


@dataclass(frozen=True)
class Opened:
    """`left`: unsafe alarms for which the next run opens a finding."""

    found: Reaudit
    opened: int
    graver: int
    left: int


def outcome_of(done: Opened) -> dict[str, int]:
    """In numbers, for whoever is told later."""
    return {
        "devices": done.found.devices,
        "opened": done.opened,
        "graver": done.graver,
        "left": done.left,
    }


@dataclass(frozen=True)
class _Chunk:
    held: HeldBlock
    found: Reaudit


def reaudit(tx: Session, *, by: Person, now: datetime) -> Opened:
    """What is unsafe today has a finding afterwards; the judgements of the reports stay as they
    are. One ledger entry for each chunk of devices, all of them last."""
    check_may(by, Deed.REAUDIT)
    lock_policy(tx, by.agency_id)
    today = _today(tx, by.agency_id, now)
    chunks = [_chunk(today, held) for held in held_blocks(tx, by.agency_id)]
    found = sum((chunk.found for chunk in chunks), Reaudit())
    known = standing_findings(tx, by.agency_id)
    wanted = [one for one in found.unsafe if known.get(one.place, _NONE)[1] is not Severity.UNSAFE]
    told = wanted[:MOST_OPENED]
    _tell(tx, told, known, today, by=by, now=now)
    for chunk in chunks:
        about = {"revision": today.number, "bounds": today.bounds.name, **_about(chunk)}
        ledger.append(
            tx, agency=by.agency, did="re-audit devices", by=by.username, at=now, about=about
        )
    _note_run(tx, today, found.devices, by=by, now=now)
    graver = sum(one.place in known for one in told)
    return Opened(found, len(told) - graver, graver, len(wanted) - len(told))


_NONE = (0, None)


def _note_run(tx: Session, today: InForce, devices: int, *, by: Person, now: datetime) -> None:
    add_run(
        tx,
        agency_id=by.agency_id,
        revision=today.number,
        bounds=today.bounds.name,
        devices=devices,
        by=by.id,
        now=now,
    )


def _today(tx: Session, agency_id: int, now: datetime) -> InForce:
    ruling = ruling_at(tx, agency_id=agency_id, at=now)
    revision = ruling.revision
    if revision is None or revision.in_force_at is None:
        raise NotNow("No policy is in force, so there is nothing to hold the fleet against.")
    profile = stored_profile(revision.document)
    return InForce(revision.number, revision.in_force_at, profile, ruling.bounds, {})


def _chunk(today: InForce, held: HeldBlock) -> _Chunk:
    against = BlockAgainst(today, held.model, held.block.layout)
    return _Chunk(held, reaudited(against, held.block, held.devices, held.worst))


def _about(chunk: _Chunk) -> dict[str, Any]:
    found, held = chunk.found, chunk.held
    return {
        "model": held.model,
        "devices": found.devices,
        "first": held.devices[0],
        "last": held.devices[-1],
        "conform": found.today(None) + found.today(Severity.NOTE),
        "off_protocol": found.today(Severity.OFF_PROTOCOL),
        "unsafe": found.today(Severity.UNSAFE),
        "unsafe_when_read": found.then(Severity.UNSAFE),
    }


def _tell(
    tx: Session,
    wanted: Sequence[UnsafeToday],
    known: Mapping[tuple[str, str, str], tuple[int, Severity]],
    today: InForce,
    *,
    by: Person,
    now: datetime,
) -> None:
    """A new finding, or the one that stands made graver; who re-audits stands in its story."""
    tags = sorted({one.device for one in wanted})
    locked = devices.lock_devices(tx, agency_id=by.agency_id, tags=tags)
    telling = telling_by_preset(tx, by.agency_id, tags)
    reports = reports_by_id(tx, sorted({telling[one.device, one.preset] for one in wanted}))
    for one in wanted:
        report = _as_today(reports[telling[one.device, one.preset]], one, by=by, now=now)
        stands = known.get(one.place)
        if stands is None:
            findings.open_finding(
                tx,
                agency_id=by.agency_id,
                device=locked[one.device],
                report=report,
                alarm=one.alarm,
                now=now,
            )
        else:
            finding = findings.finding_by_id(tx, stands[0])
            findings.refresh_finding(tx, finding, report=report, reopen=False)
        _explain(tx, locked[one.device].id, one, report, today)


def _as_today(report: StoredReport, one: UnsafeToday, *, by: Person, now: datetime) -> StoredReport:
    """The stored judgement stays; this copy carries today's to the finding."""
    verdicts = {one.alarm: (one.direction, Severity.UNSAFE)}
    return replace(report, verdicts=verdicts, reader_id=by.id, reader=by.name, received_at=now)


def _explain(
    tx: Session, device_id: int, one: UnsafeToday, report: StoredReport, today: InForce
) -> None:
    note = (
        f"Re-audit: what was read on {report.read_at:%Y-%m-%d %H:%M} UTC, held against revision "
        f"{today.number} and the bounds “{today.bounds.name}” of today."
    )
    finding = standing_number(tx, device_id, preset=one.preset, alarm=one.alarm)
    event = FindingEvent(
        EventKind.COMMENTED, report.received_at, report.reader_id, report.reader, note=note
    )
    add_event(tx, finding, event)
