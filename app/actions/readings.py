"""Beginning to read a preset of a device: what is asked is fixed now, before anybody looks."""

from dataclasses import replace
from datetime import datetime

from sqlmodel import Session

from app.actions.reports import Ruling, ruling_at
from app.domain.devices import Device
from app.domain.double_reading import NextLook
from app.domain.errors import NotNow, Refused
from app.domain.finding_steps import lines_to_read, wants_closely
from app.domain.fleet import critical_of
from app.domain.option_judgement import ANY_PRESET
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line, note
from app.domain.profiles import Profile
from app.domain.reading_sessions import (
    NewReading,
    ReadingSession,
    ReadingStatus,
    asked_at_first,
    asked_closely,
    check_new_reading,
    options_asked,
)
from app.domain.rendering import RenderedPreset, rendered_presets
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, findings, ledger, reports
from app.storage import reading_sessions as sessions


def start_reading(
    tx: Session, *, new: NewReading, die: int, by: Person, now: datetime
) -> ReadingSession:
    """`die`: 0 to 99, thrown by the door; it says whether the whole preset is asked. The same
    key again changes nothing and gives the first one."""
    check_may(by, Deed.READ_DEVICE)
    new = _tidy(new)
    device = devices.device_tagged(tx, agency_id=by.agency_id, tag=new.device, lock=True)
    earlier = sessions.session_with_key(tx, agency_id=by.agency_id, key=new.key)
    if earlier is not None:
        return earlier
    if device.retired:
        raise NotNow(f"{device.tag} is retired. Bring it back first.")
    ruling = ruling_at(tx, agency_id=by.agency_id, at=now)
    percent = ruling.choices.whole_reading_percent
    if new.preset == ANY_PRESET:
        whole, first = True, _options_look(tx, device, _profile(ruling))
    else:
        rendered = _rendered(ruling, device, new.preset)
        drawn = new.trigger.wants_whole or die < percent
        whole = drawn or _is_about_more(tx, device, rendered, ruling)
        first = _first_look(tx, device, rendered, ruling, whole=whole, die=die)
    _let_lapse(tx, by, device, now)
    number = sessions.add_session(
        tx, device, new, die=die, whole=whole, first=first, by=by, now=now
    )
    _tell(tx, number, new, {"die": die, "percent": percent, "whole": whole}, by=by, now=now)
    return sessions.session_by_id(tx, number)


def _first_look(
    tx: Session,
    device: Device,
    rendered: RenderedPreset,
    ruling: Ruling,
    *,
    whole: bool,
    die: int,
) -> NextLook:
    """With everything that the findings of this preset need to be verified, and as closely."""
    standing = [
        found
        for found in findings.findings_not_closed(tx, device)
        if found.preset == rendered.preset
    ]
    numbers = {number for found in standing for number in (found.opened_by, found.report)}
    seen = reports.reports_by_id(tx, sorted(numbers))
    about = [(one.alarm, seen[n]) for one in standing for n in (one.opened_by, one.report)]
    also = {line for alarm, found in about for line in lines_to_read(found, alarm)}
    asked = asked_at_first(rendered, ruling.choices, whole=whole, also=also)
    wanted = {alarm for alarm, found in about if wants_closely(found, alarm)}
    return NextLook(1, asked, closely=asked_closely(asked, wanted, die))


def _options_look(tx: Session, device: Device, profile: Profile) -> NextLook:
    """All of them at once: they are few, and none of them is critical."""
    standing = findings.findings_not_closed(tx, device)
    asked = options_asked(profile, {one.alarm for one in standing if one.preset == ANY_PRESET})
    if not asked:
        raise NotNow("The policy in force says nothing of options, so none is to be read.")
    return NextLook(1, asked)


def _tell(
    tx: Session,
    number: int,
    new: NewReading,
    drawn: dict[str, object],
    *,
    by: Person,
    now: datetime,
) -> None:
    about = {
        "reading": number,
        "device": new.device,
        "preset": new.preset,
        "state_read": new.state_read.value,
        "trigger": new.trigger.value,
        **drawn,
    }
    ledger.append(tx, agency=by.agency, did="start a reading", by=by.username, at=now, about=about)


def _tidy(new: NewReading) -> NewReading:
    tidy = replace(
        new,
        preset=line(new.preset, column="preset"),
        software=note(new.software, column="software"),
        device_clock=note(new.device_clock, column="device_clock"),
    )
    check_new_reading(tidy)
    return tidy


def _profile(ruling: Ruling) -> Profile:
    if ruling.revision is None:
        raise NotNow("No policy is in force, so nothing says which alarms are to be read.")
    return stored_profile(ruling.revision.document)


def _rendered(ruling: Ruling, device: Device, preset: str) -> RenderedPreset:
    presets = rendered_presets(_profile(ruling), device.model)
    if preset not in presets:
        raise Refused.because("choose one of the presets of this device", column="preset")
    return presets[preset]


def _is_about_more(tx: Session, device: Device, rendered: RenderedPreset, ruling: Ruling) -> bool:
    """A finding of an alarm that is not critical is verified by reading all, which tells nobody
    what it is about."""
    critical = critical_of(rendered, ruling.choices)
    return any(
        found.preset == rendered.preset and found.alarm not in critical
        for found in findings.findings_not_closed(tx, device)
    )


def _let_lapse(tx: Session, by: Person, device: Device, now: datetime) -> None:
    for one in sessions.waiting_sessions(tx, agency_id=by.agency_id, device=device.tag):
        if one.is_late(now):
            sessions.tell_session(tx, one.id, status=ReadingStatus.LAPSED, telling=one.telling)
