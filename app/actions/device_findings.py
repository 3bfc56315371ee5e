"""One step for every finding of a device that can take it."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.actions.findings import move_finding
from app.domain.errors import NotNow, Refused
from app.domain.finding_life import FindingKind, FindingStatus, StoredFinding, steps_from
from app.domain.finding_steps import NOTHING, StepDetails
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.storage import findings
from app.storage.devices import device_tagged

TOGETHER = (FindingStatus.CONTAINED, FindingStatus.CORRECTED, FindingStatus.VERIFIED)
"""Closing asks of each by itself why it had strayed, and whether it is heard."""


@dataclass(frozen=True)
class Left:
    finding: int
    why: str


@dataclass(frozen=True)
class Moved:
    findings: tuple[int, ...]
    left: tuple[Left, ...]


def move_findings_of(
    tx: Session,
    *,
    device: str,
    to: FindingStatus,
    by: Person,
    now: datetime,
    note: str = "",
    details: StepDetails = NOTHING,
) -> Moved:
    """Each with its own entry, as if taken by itself; what cannot take it stays, and says why.
    Raises NotNow where none can."""
    check_may(by, Deed.WORK_FINDING)
    if to not in TOGETHER:
        raise Refused.because("choose one", column="to", value=to.value)
    found = device_tagged(tx, agency_id=by.agency_id, tag=device, lock=True)
    moved, left = [], []
    for one in taking(findings.findings_not_closed(tx, found), to):
        try:
            move_finding(tx, finding_id=one.id, to=to, by=by, now=now, note=note, details=details)
        except NotNow as why:  # told before anything of it was stored
            left.append(Left(one.id, why.message))
        else:
            moved.append(one.id)
    if not moved:
        reasons = dict.fromkeys(one.why for one in left)
        raise NotNow(" ".join(reasons) or f"No finding of {device} can become {to.value} now.")
    return Moved(tuple(moved), tuple(left))


def taking(found: list[StoredFinding], to: FindingStatus) -> list[StoredFinding]:
    """Those whose next step it is."""
    held = [one for one in found if one.kind is FindingKind.HELD]
    return [one for one in held if to in steps_from(one.status, one.kind)]
