"""Taking in what was read on a device: judged at once, by the revision in force at the time.

The outer bounds are those in force at that time, too.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

from sqlmodel import Session

from app.actions.clearances import clear_if_proven
from app.actions.found_astray import open_findings, standing_beside, take_late
from app.domain.agency_choices import AgencyChoices
from app.domain.brief_readings import known_after_brief
from app.domain.comparison import NOTHING
from app.domain.device_reports import Reading, StateRead
from app.domain.devices import Device
from app.domain.errors import Conflict, Refused
from app.domain.finding_life import FindingKind
from app.domain.fleet import (
    EVERY_ALARM,
    HowRead,
    Judgement,
    StoredReport,
    judge,
)
from app.domain.known_devices import is_late, known_after
from app.domain.new_reports import NewReport, check_report
from app.domain.option_judgement import preset_words
from app.domain.outer_bounds import OuterBounds
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line, note
from app.domain.revisions import StoredRevision
from app.domain.triggers import Trigger
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, devices_now, ledger, reports, revisions
from app.storage.agencies import agency_by_id
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.report_origins import is_same_report
from app.storage.reports import Verdict
from app.storage.settled_readings import firm_readings


def record_report(tx: Session, *, report: NewReport, by: Person, now: datetime) -> StoredReport:
    """The same report again, by its idempotency key, changes nothing and gives the first one."""
    check_may(by, Deed.READ_DEVICE)
    report = checked(report, now=now)
    device = devices.device_tagged(tx, agency_id=by.agency_id, tag=report.device, lock=True)
    key = report.idempotency_key
    earlier = reports.report_with_key(tx, agency_id=by.agency_id, key=key)
    if earlier is not None:
        return _same(tx, earlier, report)
    check_only_one(tx, device, report)
    ruling = ruling_at(tx, agency_id=by.agency_id, at=report.read_at)
    stored = store_report(tx, device, report, ruling, by=by, now=now)
    tell_report(tx, stored, by=by, now=now)
    return stored


def checked(report: NewReport, *, now: datetime) -> NewReport:
    """As it can be kept. Raises Refused with everything that is wrong."""
    tidy = replace(
        report,
        preset=line(report.preset, column="preset"),
        idempotency_key=line(report.idempotency_key, column="idempotency_key"),
        software=note(report.software, column="software"),
        trigger=note(report.trigger, column="trigger"),
        reader=note(report.reader, column="reader"),
        device_clock=note(report.device_clock, column="device_clock"),
    )
    check_report(tidy, now=now)
    return tidy


def _same(tx: Session, earlier: StoredReport, report: NewReport) -> StoredReport:
    if not is_same_report(tx, earlier.id, report):
        raise Conflict(
            "Another report was sent with this idempotency key.", theirs=earlier, yours=report
        )
    return earlier


def check_only_one(tx: Session, device: Device, report: NewReport) -> None:
    twice = reports.report_of_that_time(tx, device, report)
    if twice is not None:
        raise Conflict(
            f"{device.tag} has a report of {preset_words(report.preset)} at that time already.",
            theirs=twice,
            yours=report,
        )


@dataclass(frozen=True)
class Ruling:
    """What judged devices at some time; which alarms are critical is the agency's choice today."""

    revision: StoredRevision | None
    bounds: OuterBounds
    choices: AgencyChoices = EVERY_ALARM


def ruling_at(tx: Session, *, agency_id: int, at: datetime) -> Ruling:
    return Ruling(
        revisions.revision_in_force(tx, agency_id=agency_id, at=at),
        stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=at)),
        agency_by_id(tx, agency_id).choices,
    )


def store_report(
    tx: Session, device: Device, report: NewReport, ruling: Ruling, *, by: Person, now: datetime
) -> StoredReport:
    """Judged, with what follows from it for the device; the ledger is left to the caller."""
    stored, judgement = judge_and_store(tx, device, report, ruling, by=by, now=now)
    take_note(tx, device, stored, judgement, by=by, now=now)
    return stored


def judge_and_store(
    tx: Session,
    device: Device,
    report: NewReport,
    ruling: Ruling,
    *,
    by: Person,
    now: datetime,
    beside: Mapping[str, Reading] = NOTHING,
) -> tuple[StoredReport, Judgement]:
    """Nothing follows from it yet. `beside`: what earlier looks of the same reading found."""
    verdict = _judged(device, report, ruling, beside)
    number = reports.add_report(
        tx,
        agency_id=by.agency_id,
        device=device,
        report=report,
        verdict=verdict,
        by=by,
        now=now,
    )
    return reports.report_by_id(tx, number), verdict.judgement


def _judged(
    device: Device, report: NewReport, ruling: Ruling, beside: Mapping[str, Reading]
) -> Verdict:
    revision = ruling.revision
    if revision is None:
        return Verdict(None, Judgement())
    try:
        judgement = judge(
            stored_profile(revision.document),
            model=device.model,
            preset=report.preset,
            readings=report.readings,
            how=HowRead(report.state_read, report.minutes_off, beside),
            bounds=ruling.bounds,
            choices=ruling.choices,
        )
    except KeyError:
        raise Refused.because(
            f"{device.model} has no such preset in revision {revision.number}",
            column="preset",
            value=report.preset,
        ) from None
    return Verdict(revision.id, judgement)


def take_note(
    tx: Session,
    device: Device,
    report: StoredReport,
    judgement: Judgement,
    *,
    by: Person,
    now: datetime,
    doubted: Collection[str] | None = None,
) -> None:
    """Of an older report than the one known only that counts at which no later one looked. One of
    a device in use says how a crew used it, and nothing of what it holds.

    `doubted`: alarms that wait for another look, None where the report is not waiting at all.
    """
    if report.state_read is StateRead.IN_USE:
        use = FindingKind.USE
        open_findings(tx, device, report, report.verdicts.keys(), by=by, now=now, kind=use)
        return

    known_now = devices_now.device_now(tx, device.id)
    standing = standing_beside(tx, device, report)
    tells = known_after_brief if report.trigger == Trigger.SHIFT.value else known_after
    readings_of = partial(firm_readings, tx)
    after = tells(known_now, report, judgement, readings_of, doubted, standing)
    if after is None:
        if known_now is not None and is_late(known_now, report, judgement):
            take_late(tx, device, known_now, report, by=by, now=now, doubted=doubted or ())
        return
    devices_now.save_device_now(tx, device, after, agency_id=by.agency_id)
    found = {alarm for alarm in report.verdicts if alarm not in (doubted or ())}
    open_findings(tx, device, report, found, by=by, now=now)
    clear_if_proven(tx, device, report, agency_id=by.agency_id)


def tell_report(
    tx: Session,
    report: StoredReport,
    *,
    by: Person,
    now: datetime,
    did: str = "read a device",
    besides: Mapping[str, object] | None = None,
    waits: bool = False,
) -> None:
    """`waits`: somebody is to look again without knowing, so what deviates is told later."""
    about = {
        "report": report.id,
        "device": report.device,
        "preset": report.preset,
        "state_read": report.state_read.value,
        "read_at": report.read_at.isoformat(),
        "revision": report.revision,
        **({} if waits else {"deviations": deviations_told(report)}),
        **(besides or {}),
    }
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)


def deviations_told(report: StoredReport) -> dict[str, list[str]]:
    return {
        alarm: [direction.value, severity.value]
        for alarm, (direction, severity) in report.verdicts.items()
    }
