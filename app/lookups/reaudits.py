"""The fleet's known values beside today's policy and bounds, as a re-audit would find them."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import InForce
from app.domain.findings import Severity
from app.domain.reaudits import Reaudit, reaudited
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage.held_blocks import held_blocks
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.reaudit_rows import standing_findings
from app.storage.reaudit_runs import ReauditRun, is_read_before, last_run
from app.storage.revisions import revision_in_force


@dataclass(frozen=True)
class ReauditPage:
    """`revision` None: nothing is in force. `without`: unsafe today, and nobody has an unsafe
    finding of it. `standing`: the number of what stands, by device, preset and alarm."""

    revision: int | None
    bounds: str
    found: Reaudit
    standing: dict[tuple[str, str, str], int]
    without: int


@dataclass(frozen=True)
class ReauditDue:
    """What judges devices today is not what the fleet was last held against. `last` None: it never
    was. `since`: when it began."""

    revision: int
    bounds: str
    since: datetime
    last: ReauditRun | None


def reaudit_due(tx: Session, *, agency_id: int, now: datetime) -> ReauditDue | None:
    """None where nothing changed, or everything was read after it did."""
    revision = revision_in_force(tx, agency_id=agency_id, at=now)
    if revision is None or revision.in_force_at is None:
        return None
    version = bounds_version_in_force(tx, agency_id=agency_id, at=now)
    bounds, last = stored_bounds(version).name, last_run(tx, agency_id)
    if last is not None and (last.revision, last.bounds) == (revision.number, bounds):
        return None
    began = [revision.in_force_at, *([version.in_force_at] if version else [])]
    since = max(at for at in began if at is not None)
    if not is_read_before(tx, agency_id, since):
        return None
    return ReauditDue(revision.number, bounds, since, last)


def reaudit_today(tx: Session, *, agency_id: int, now: datetime) -> ReauditPage:
    """A statement for each kind of device, none for each device."""
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now))
    revision = revision_in_force(tx, agency_id=agency_id, at=now)
    if revision is None or revision.in_force_at is None:
        return ReauditPage(None, bounds.name, Reaudit(), {}, 0)
    profile = stored_profile(revision.document)
    today = InForce(revision.number, revision.in_force_at, profile, bounds, {})
    found = sum(
        (
            reaudited(
                BlockAgainst(today, held.model, held.block.layout),
                held.block,
                held.devices,
                held.worst,
            )
            for held in held_blocks(tx, agency_id)
        ),
        Reaudit(),
    )
    standing = standing_findings(tx, agency_id)
    grave = {place for place, (_, severity) in standing.items() if severity is Severity.UNSAFE}
    return ReauditPage(
        revision.number,
        bounds.name,
        found,
        {place: number for place, (number, _) in standing.items()},
        sum(one.place not in grave for one in found.unsafe),
    )
