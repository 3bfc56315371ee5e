"""Walks the real actions until things are in the wanted state.

Anna authors, Ravi reviews, Dana directs, Femi keeps the fleet, Tess mends it, Cruz is crew, Ada is
administrator; Olu is an outsider from another agency.
"""

from collections.abc import Mapping
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from itertools import count
from typing import Any

from pwdlib.hashers.argon2 import Argon2Hasher
from sqlmodel import Session

from app.actions.devices import add_device
from app.actions.people import create_agency
from app.actions.reports import record_report
from app.actions.revisions import move_revision, start_draft
from app.actions.signing import sign_revision
from app.domain.agencies import Agency, NewAgency
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_reports import FoundNotFitted, FoundOff, FoundOn, Reading, StateRead
from app.domain.devices import Device
from app.domain.fleet import StoredReport
from app.domain.moves import RevisionStatus
from app.domain.new_reports import NewReport
from app.domain.people import Person, Role
from app.domain.revisions import StoredRevision
from app.domain.signing import SigningTerms
from app.storage import agencies, devices, people
from tests.remembered import remembered

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
PASSWORD = "five stones on the hill"
PRESET = "preschool"
QUICK = Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1)
"""Real digests with parameters far too weak for anything but a test."""

_keys = count(1)
_NAMES = {
    Role.AUTHOR: "Anna",
    Role.REVIEWER: "Ravi",
    Role.MEDICAL_DIRECTOR: "Dana",
    Role.FLEET_MANAGER: "Femi",
    Role.TECHNICIAN: "Tess",
    Role.CREW: "Cruz",
    Role.ADMINISTRATOR: "Ada",
    Role.QUALITY_OFFICER: "Quinn",
    Role.EDUCATOR: "Edda",
}


def an_agency(tx: Session, key: str = "skerry") -> Agency:
    """Made if it is not there yet, as all builders do, so that things can be asked for singly."""
    return agencies.agency_by_key(tx, key) or create_agency(
        tx,
        agency=NewAgency(key, f"{key.title()} Ambulance", "Europe/London"),
        now=NOW,
    )


def a_person(
    tx: Session,
    role: Role = Role.MEDICAL_DIRECTOR,
    *,
    name: str | None = None,
    agency: str = "skerry",
) -> Person:
    return _person(tx, name or _NAMES[role], {role}, agency)


def olu(tx: Session) -> Person:
    """Holds every role, but elsewhere."""
    return _person(tx, "Olu", set(Role), "elsewhere")


def a_person_of_every_role(tx: Session) -> Person:
    """Alma, in the agency of all the others: nothing is refused because of a role."""
    return _person(tx, "Alma", set(Role), "skerry")


def _person(tx: Session, name: str, roles: set[Role], agency: str) -> Person:
    employer = an_agency(tx, agency)
    for person in people.people_of(tx, employer.id):
        if person.name == name:
            return person
    return people.add_person(
        tx,
        agency=employer,
        username=name.lower(),
        name=name,
        roles=roles,
        password_hash=quick_digest(PASSWORD),
        now=NOW,
    )


@cache
def quick_digest(password: str) -> str:
    return QUICK.hash(password)


def a_document(limits: Mapping[str, float] | None = None) -> dict[str, Any]:
    """A policy that can be signed; `limits` replaces those of the category `preschool`."""
    document = deepcopy(_DOCUMENT)
    for alarm, limit in (limits or {}).items():
        document["settings"][PRESET][alarm]["limit"] = limit
    return document


@remembered
def a_draft(tx: Session, *, document: dict[str, Any] | None = None) -> StoredRevision:
    anna = a_person(tx, Role.AUTHOR)
    return start_draft(tx, document=document or a_document(), by=anna, now=NOW)


@remembered
def a_revision_in_review(tx: Session, *, document: dict[str, Any] | None = None) -> StoredRevision:
    draft = a_draft(tx, document=document)
    return move_revision(
        tx,
        number=draft.number,
        to=RevisionStatus.IN_REVIEW,
        by=a_person(tx, Role.AUTHOR),
        now=NOW,
    )


@remembered
def a_signed_revision(
    tx: Session,
    *,
    document: dict[str, Any] | None = None,
    now: datetime = NOW,
    in_force_at: datetime | None = None,
) -> StoredRevision:
    """In force at once, unless a later time is given."""
    submitted = a_revision_in_review(tx, document=document)
    return sign_revision(
        tx,
        number=submitted.number,
        fingerprint=submitted.fingerprint,
        meaning="This is our policy.",
        password=PASSWORD,
        by=a_person(tx, Role.MEDICAL_DIRECTOR),
        now=now,
        terms=SigningTerms(in_force_at),
    )


def a_device(tx: Session, tag: str = "boat-3", *, model: str = "dunlin") -> Device:
    femi = a_person(tx, Role.FLEET_MANAGER)
    found = devices.find_device(tx, agency_id=femi.agency_id, tag=tag)
    return found or add_device(tx, tag=tag, model=model, station="North", by=femi, now=NOW)


def as_signed(preset: str = PRESET, **instead: Reading) -> dict[str, Reading]:
    """Readings that conform; `heart_rate_high=FoundOn(…)` replaces one."""
    readings = {
        alarm: _reading(setting)
        for alarm, setting in _DOCUMENT["settings"][preset].items()
        if setting["state"] in ("on", "off")
    }
    return readings | {name.replace("_", "-"): reading for name, reading in instead.items()}


def limit(value: int) -> FoundOn:
    return FoundOn(Decimal(value))


def a_report(
    tx: Session,
    readings: Mapping[str, Reading] | None = None,
    *,
    by: Person | None = None,
    read_at: datetime = NOW,
    **instead: Any,
) -> StoredReport:
    return record_report(
        tx,
        report=a_new_report(readings, read_at=read_at, **instead),
        by=by or a_person(tx, Role.FLEET_MANAGER),
        now=max(read_at, NOW),
    )


def a_new_report(readings: Mapping[str, Reading] | None = None, **instead: Any) -> NewReport:
    wanted: dict[str, Any] = {
        "device": "boat-3",
        "preset": PRESET,
        "state_read": StateRead.POWER_ON,
        "readings": as_signed() if readings is None else readings,
        "read_at": NOW,
        "idempotency_key": f"key-{next(_keys)}",
        "software": "3.2",
        "trigger": "monthly",
        "minutes_off": 5,
    }
    return NewReport(**(wanted | instead))


def _reading(setting: Mapping[str, Any]) -> Reading:
    if setting["state"] != "on":
        return FoundOff() if setting["state"] == "off" else FoundNotFitted()
    written = setting["limit"]
    return FoundOn(None if written is None else Decimal(str(written)))


def _on(limit: float | None, priority: str = "medium") -> dict[str, Any]:
    return {
        "state": "on",
        "limit": limit,
        "priority": priority,
        "delay_s": 0,
        "latching": False,
        "reason": "agreed by the clinical group",
        "source": "common practice",
    }


def _settings(
    heart: tuple[int, int], breath: tuple[int, int], saturation: int, systolic: int
) -> dict[str, Any]:
    arrests = ("asystole", "ventricular-fibrillation", "ventricular-tachycardia")
    return {
        **{alarm: {"state": "no-policy"} for alarm in ALARM_CONDITIONS},
        "heart-rate-low": _on(heart[0]),
        "heart-rate-high": _on(heart[1]),
        "respiratory-rate-low": _on(breath[0]),
        "respiratory-rate-high": _on(breath[1]),
        "spo2-low": _on(saturation, "high"),
        "spo2-high": {"state": "off", "reason": "no oxygen target at this age"},
        "nibp-systolic-low": _on(systolic),
        "apnoea": _on(20, "high"),
        "airway-apnoea": _on(20, "high"),
        **{alarm: _on(None, "high") for alarm in arrests},
    }


_BANDS = {
    "neonate": ("0 d", "28 d", _settings((100, 200), (25, 70), 89, 60)),
    "infant": ("28 d", "1 y", _settings((90, 180), (20, 60), 90, 70)),
    "preschool": ("1 y", "5 y", _settings((75, 170), (15, 50), 90, 80)),
    "school": ("5 y", "13 y", _settings((60, 150), (12, 40), 90, 85)),
    "adult": ("13 y", None, _settings((50, 130), (10, 30), 90, 90)),
}
_DOCUMENT: dict[str, Any] = {
    "format": "marchstone-profile/1",
    "agency": "",
    "profile": "Ground and air",
    "revision": 1,
    "categories": [
        {"key": key, "label": key.title(), "from": start, "to": end}
        for key, (start, end, _) in _BANDS.items()
    ],
    "settings": {key: settings for key, (_, _, settings) in _BANDS.items()},
}
