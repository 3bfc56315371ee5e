"""Looks at a device: each is locked before anything is compared, and what is then in doubt is
looked at again."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import Session

from app.actions.found_astray import open_findings
from app.actions.reports import (
    Ruling,
    check_only_one,
    checked,
    deviations_told,
    judge_and_store,
    ruling_at,
    take_note,
    tell_report,
)
from app.domain.device_reports import Origin, Reading
from app.domain.devices import Device
from app.domain.double_reading import Dice, Look, NextLook, next_look, rereading, settled
from app.domain.errors import Conflict, NotFound, NotNow, Refused
from app.domain.findings import Severity
from app.domain.fleet import Judgement, StoredReport, was_read
from app.domain.new_reports import NewReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.reading_sessions import LockedLook, ReadingSession, ReadingStatus, origin_of
from app.storage import devices, people, reports
from app.storage import reading_sessions as sessions


@dataclass(frozen=True)
class LookTaken:
    """What was typed; `minutes_off` counts for later looks, the first one has its own.
    `read_at` None: now; a phone without signal tells it later. `seen`: it is not blind."""

    number: int
    readings: Mapping[str, Reading]
    minutes_off: int | None = None
    read_at: datetime | None = None
    seen: bool = False


def lock_look(
    tx: Session, *, reading: int, taken: LookTaken, dice: Dice, by: Person, now: datetime
) -> ReadingSession:
    """Stored and only then compared. The same look again changes nothing."""
    check_may(by, Deed.READ_DEVICE)
    device, session = _locked(tx, by, reading)
    look = next((one for one in session.looks if one.wanted.number == taken.number), None)
    if look is None:
        raise NotNow("This look is not wanted.")
    report = _report(session, look, taken, by, now)
    if look.report is not None:
        return _same(tx, session, look, report, by)
    _check_may_look(session, look, report, by, now)
    check_only_one(tx, device, report)
    ruling = ruling_at(tx, agency_id=by.agency_id, at=report.read_at)
    stored, judgement = judge_and_store(
        tx, device, report, ruling, by=by, now=now, beside=_seen_before(tx, session)
    )
    sessions.lock_look(tx, session.id, taken.number, report_id=stored.id)
    locked = _Locked(device, session, stored, judgement, ruling)
    borne_out = _go_on(tx, locked, dice, by=by, now=now)
    after = sessions.session_by_id(tx, reading)
    told = {"reading": session.id, "look": taken.number}
    tell_report(tx, stored, by=by, now=now, besides=told, waits=after.wanted is not None)
    if borne_out is not None:
        _tell_settled(tx, after, borne_out, by=by, now=now)
    return after


def _tell_settled(
    tx: Session, session: ReadingSession, borne_out: StoredReport, *, by: Person, now: datetime
) -> None:
    """With what the looks before the last one found, which the ledger has not told yet."""
    before = [one.report for one in session.looks[:-1] if one.report is not None]
    found = reports.reports_by_id(tx, before)
    told = {
        "reading": session.id,
        "looks": len(session.looks),
        "earlier": {str(number): deviations_told(found[number]) for number in before},
    }
    tell_report(tx, borne_out, by=by, now=now, did="settle a reading", besides=told)


def _locked(tx: Session, by: Person, reading: int) -> tuple[Device, ReadingSession]:
    """One look at a time changes what is known of a device."""
    found = sessions.find_session(tx, agency_id=by.agency_id, session_id=reading)
    if found is None:
        raise NotFound("There is no such reading.")
    device = devices.lock_device(tx, agency_id=by.agency_id, tag=found.device)
    if device is None:
        raise NotFound(f"There is no device {found.device}.")
    return device, sessions.session_by_id(tx, reading)


def _report(
    session: ReadingSession, look: LockedLook, taken: LookTaken, by: Person, now: datetime
) -> NewReport:
    first = look.wanted.number == 1
    report = NewReport(
        device=session.device,
        preset=session.preset,
        state_read=session.state_read,
        readings=taken.readings,
        read_at=taken.read_at or now,
        idempotency_key=f"reading {session.id} look {look.wanted.number}",
        software=session.software,
        trigger=session.trigger.value,
        minutes_off=session.minutes_off if first else taken.minutes_off,
        device_clock=session.device_clock if first else "",
        origin=origin_of(by, session.trigger, seen=taken.seen) if first else Origin.FORM,
    )
    return checked(report, now=now)


def _same(
    tx: Session, session: ReadingSession, look: LockedLook, report: NewReport, by: Person
) -> ReadingSession:
    earlier = reports.report_by_id(tx, look.report or 0)
    alike = earlier.readings == report.readings and earlier.minutes_off == report.minutes_off
    if earlier.reader_id != by.id or not alike:
        raise Conflict(
            f"This look was locked by {earlier.reader} already, and a locked one is never changed. "
            "Nothing more was stored. Start another reading if you looked again.",
            theirs=earlier,
            yours=report,
        )
    return session


def _check_may_look(
    session: ReadingSession, look: LockedLook, report: NewReport, by: Person, now: datetime
) -> None:
    if session.status is not ReadingStatus.WAITING or session.is_late(now):
        raise NotNow(
            "A day has passed since this reading began, and the device may have changed. "
            "Start another reading."
        )
    if by.id in look.wanted.other_than:
        raise NotNow("Somebody who has not looked yet makes this look.")
    if report.readings.keys() != set(look.wanted.asked):
        raise Refused.because("answer what is asked", column="readings")


@dataclass(frozen=True)
class _Locked:
    """A look that was just stored, and what goes with it."""

    device: Device
    session: ReadingSession
    report: StoredReport
    judgement: Judgement
    ruling: Ruling


def _go_on(
    tx: Session, locked: _Locked, dice: Dice, *, by: Person, now: datetime
) -> StoredReport | None:
    """What several looks bear out, once they do."""
    looks = [*_earlier_looks(tx, locked.session), _look(locked.report)]
    if len(looks) == 1:
        _after_first(tx, locked, looks[0], dice, by=by, now=now)
        return None
    if not locked.judgement.counts:
        raise Refused.because(
            "the device keeps what a crew changed for longer than that: leave it off longer, and "
            "look again",
            column="minutes_off",
        )
    open_findings(tx, locked.device, locked.report, looks[-1].unsafe, by=by, now=now)
    wanted = next_look(looks, _readers(tx, by), dice)
    if wanted is None:
        return _settle(tx, locked, looks, by=by, now=now)
    _want(tx, session=locked.session, wanted=wanted)
    return None


def _want(tx: Session, *, session: ReadingSession, wanted: NextLook) -> None:
    """As closely as at first."""
    closely = session.looks[0].wanted.closely.intersection(wanted.asked)
    sessions.want_look(tx, session.id, replace(wanted, closely=closely))


def _after_first(
    tx: Session, locked: _Locked, look: Look, dice: Dice, *, by: Person, now: datetime
) -> None:
    """What is unsafe counts at once, everything else waits for the next look."""
    session, report = locked.session, locked.report
    counts = report.state_read.counts and locked.judgement.counts and report.origin.blind
    wanted = next_look([look], _readers(tx, by), dice) if counts else None
    doubted = None if wanted is None else look.flagged.keys() - look.unsafe
    if wanted is None:
        sessions.tell_session(tx, session.id, status=ReadingStatus.SETTLED, telling=report.id)
    if report.origin.blind or report.is_astray:  # whoever knew the values bears nothing out
        take_note(tx, locked.device, report, locked.judgement, by=by, now=now, doubted=doubted)
    if wanted is None:
        return
    telling = report.id if look.unsafe else None
    sessions.tell_session(tx, session.id, status=ReadingStatus.WAITING, telling=telling)
    _want(tx, session=session, wanted=wanted)


def _settle(
    tx: Session, locked: _Locked, looks: list[Look], *, by: Person, now: datetime
) -> StoredReport:
    """What the looks bear out is a report of its own, judged as any other."""
    session = locked.session
    names = [one.reader for one in session.looks if one.reader] + [by.name]
    report = replace(
        _report(session, session.looks[-1], LookTaken(1, settled(looks)), by, now),
        idempotency_key=f"reading {session.id} settled",
        minutes_off=locked.report.minutes_off,
        reader=", ".join(dict.fromkeys(names)),
        origin=Origin.SETTLED,
    )
    stored, judgement = judge_and_store(tx, locked.device, report, locked.ruling, by=by, now=now)
    sessions.tell_session(
        tx,
        session.id,
        status=ReadingStatus.SETTLED,
        telling=stored.id,
        counted=rereading(looks),
    )
    take_note(tx, locked.device, stored, judgement, by=by, now=now)
    return stored


def _earlier_looks(tx: Session, session: ReadingSession) -> list[Look]:
    made = [one.report for one in session.looks if one.report is not None]
    found = reports.reports_by_id(tx, made)
    return [_look(found[number]) for number in made]


def _seen_before(tx: Session, session: ReadingSession) -> dict[str, Reading]:
    """Of each alarm what the last look that read it found."""
    return {
        alarm: reading
        for look in _earlier_looks(tx, session)
        for alarm, reading in look.readings.items()
        if was_read(reading)
    }


def _look(report: StoredReport) -> Look:
    flagged = {
        alarm: severity
        for alarm, (_, severity) in report.verdicts.items()
        if severity is not Severity.NOTE
    }
    return Look(report.reader_id, report.read_at, report.readings, flagged)


def _readers(tx: Session, by: Person) -> frozenset[int]:
    staff = people.people_of(tx, by.agency_id)
    return frozenset(person.id for person in staff if may(person, Deed.READ_DEVICE))
