"""What is asked of whoever reads a device, and nothing of what is signed: expecting a value is
seeing it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.device_models import DeviceModel
from app.domain.devices import Device
from app.domain.errors import NotFound
from app.domain.measures import Share, share
from app.domain.option_judgement import ANY_PRESET
from app.domain.reading_sessions import ReadingSession
from app.domain.rendering import rendered_presets
from app.exchange.stored_profiles import stored_profile
from app.lookups.quarantines import device_hold
from app.storage import devices, revisions
from app.storage import reading_sessions as sessions
from app.storage.findings import findings_not_closed
from app.storage.settled_readings import rereadings_since


@dataclass(frozen=True)
class ReadingStart:
    """`presets` is empty where no policy is in force. `options`: whether the policy states any, or
    a finding of one stands. `waiting`: readings that are not finished.
    `quarantined`: nobody may switch it off or erase anything in it."""

    device: Device
    presets: tuple[str, ...]
    waiting: tuple[ReadingSession, ...]
    quarantined: bool
    options: bool = False


def reading_start(tx: Session, *, agency_id: int, tag: str, now: datetime) -> ReadingStart:
    device = devices.device_tagged(tx, agency_id=agency_id, tag=tag)
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    profile = None if revision is None else stored_profile(revision.document)
    presets = {} if profile is None else rendered_presets(profile, device.model)
    strayed = [found for found in findings_not_closed(tx, device) if found.preset == ANY_PRESET]
    waiting = sessions.waiting_sessions(tx, agency_id=agency_id, device=tag)
    return ReadingStart(
        device,
        tuple(presets),
        tuple(one for one in waiting if not one.is_late(now)),
        device_hold(tx, agency_id=agency_id, tag=tag).standing is not None,
        profile is not None and bool(profile.options or strayed),
    )


def is_device(tx: Session, *, agency_id: int, tag: str) -> bool:
    return devices.find_device(tx, agency_id=agency_id, tag=tag) is not None


@dataclass(frozen=True)
class ReadingPage:
    """`model`: what the device can be set to, where that is described. `presets`: by the name that
    the device has for each, the category that it carries."""

    session: ReadingSession
    device: Device
    model: DeviceModel | None
    quarantined: bool
    presets: Mapping[str, str]


def reading(tx: Session, *, agency_id: int, number: int, now: datetime) -> ReadingPage:
    found = sessions.find_session(tx, agency_id=agency_id, session_id=number)
    if found is None:
        raise NotFound("There is no such reading.")
    device = devices.device_tagged(tx, agency_id=agency_id, tag=found.device)
    revision = revisions.revision_in_force(tx, agency_id=agency_id, at=now)
    profile = None if revision is None else stored_profile(revision.document)
    models = {} if profile is None else profile.models
    presets = {} if profile is None else rendered_presets(profile, device.model)
    held = device_hold(tx, agency_id=agency_id, tag=found.device).standing is not None
    carries = {name: preset.carries for name, preset in presets.items()}
    return ReadingPage(found, device, models.get(device.model), held, carries)


def wanted_looks(tx: Session, *, agency_id: int, now: datetime) -> list[ReadingSession]:
    """Readings in which somebody is to look again, the oldest first."""
    found = sessions.waiting_sessions(tx, agency_id=agency_id)
    return [one for one in found if len(one.looks) > 1 and not one.is_late(now)]


def reading_of_report(tx: Session, *, agency_id: int, report_id: int) -> ReadingSession | None:
    """Where a report is one look of several, or what they bore out."""
    return sessions.session_of_report(tx, agency_id=agency_id, report_id=report_id)


@dataclass(frozen=True)
class ReadingQuality:
    """Of the deviations that first looks flagged, the share that further looks bore out; and of
    the alarms that two looks read, the share on which they disagreed."""

    confirmed: Share
    disagreed: Share


def reading_quality(tx: Session, *, agency_id: int, since: datetime) -> ReadingQuality:
    found = rereadings_since(tx, agency_id, since)
    return ReadingQuality(
        share(found.confirmed, found.flags), share(found.disagreed, found.compared)
    )
