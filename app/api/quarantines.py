"""A device that nobody may touch: custody, log, release."""

from datetime import datetime

from fastapi import APIRouter
from pydantic import AwareDatetime, BaseModel

from app.actions.quarantines import (
    Passed,
    go_on_without_log,
    hand_over,
    keep_log,
    release_device,
)
from app.api.access import Member, Now, Writing
from app.api.finding_moves import REFUSALS, Line, Note, WhyBody, shown
from app.domain.people import Person
from app.lookups.quarantines import device_hold

router = APIRouter(tags=["fleet"])


class LogBody(BaseModel):
    """The file stays where data of patients may lie; only its fingerprint comes here."""

    model_config = shown(sha256="0123456789abcdef" * 4, place="Skerry Main, safe")

    sha256: Line
    place: Line


class CustodyBody(BaseModel):
    model_config = shown(
        given_by="Femi Oyce",
        taken_by="Tess Loft",
        at="2026-03-02T09:00:00Z",
        place="Skerry Main, locked store",
        seal="4417",
    )

    given_by: Line
    taken_by: Line
    at: AwareDatetime
    place: Line
    seal: Line = ""
    note: Note = ""


class HandoverShape(BaseModel):
    given_by: str
    taken_by: str
    at: datetime
    place: str
    seal: str
    note: str
    recorded_by: str


class QuarantineShape(BaseModel):
    """`log_sha256` None: the log was not exported."""

    device: str
    standing: bool
    finding: int | None
    reason: str | None
    log_sha256: str | None
    log_place: str | None
    custody: list[HandoverShape]


@router.post(
    "/{agency}/devices/{tag}/quarantine/custody",
    summary="Write down who handed a quarantined device to whom",
    responses=REFUSALS,
)
def custody(tag: str, person: Member, body: CustodyBody, tx: Writing, now: Now) -> QuarantineShape:
    """One link of the chain; its times only go forward."""
    passed = Passed(**body.model_dump())
    hand_over(tx, device=tag, passed=passed, by=person, now=now)
    return _held(tx, tag, person)


@router.post(
    "/{agency}/devices/{tag}/quarantine/log",
    summary="Write down that its log is exported",
    responses=REFUSALS,
)
def log(tag: str, person: Member, body: LogBody, tx: Writing, now: Now) -> QuarantineShape:
    """Once; from then on it may be corrected."""
    keep_log(tx, device=tag, fingerprint=body.sha256, place=body.place, by=person, now=now)
    return _held(tx, tag, person)


@router.post(
    "/{agency}/devices/{tag}/quarantine/without-log",
    summary="Let a device be corrected without its log",
    responses=REFUSALS,
)
def without_log(tag: str, person: Member, body: WhyBody, tx: Writing, now: Now) -> QuarantineShape:
    """By the medical director."""
    go_on_without_log(tx, device=tag, reason=body.reason, by=person, now=now)
    return _held(tx, tag, person)


@router.post(
    "/{agency}/devices/{tag}/quarantine/release",
    summary="Release a device from quarantine",
    responses=REFUSALS,
)
def release(tag: str, person: Member, body: WhyBody, tx: Writing, now: Now) -> QuarantineShape:
    """By the fleet manager once its log is exported, by the medical director always."""
    release_device(tx, device=tag, reason=body.reason, by=person, now=now)
    return _held(tx, tag, person)


def _held(tx: Writing, tag: str, person: Person) -> QuarantineShape:
    found = device_hold(tx, agency_id=person.agency_id, tag=tag)
    held = found.standing or next(iter(found.past), None)
    log = None if held is None else held.log
    return QuarantineShape(
        device=tag,
        standing=found.standing is not None,
        finding=None if held is None else held.finding,
        reason=None if held is None else held.placed.reason,
        log_sha256=None if log is None else log.fingerprint,
        log_place=None if log is None else log.place,
        custody=[
            HandoverShape(
                given_by=one.given_by,
                taken_by=one.taken_by,
                at=one.at,
                place=one.place,
                seal=one.seal,
                note=one.note,
                recorded_by=one.recorded_by,
            )
            for one in (() if held is None else held.custody)
        ],
    )
