"""What tells, at the price of one row, whether the open look-up may say something else by now."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.agencies import Agency
from app.domain.revisions import RevisionLine, Signature
from app.domain.waivers import Waiver
from app.lookups.limits import next_turn
from app.storage import ledger
from app.storage.agencies import agency_by_key
from app.storage.crew_codes import crew_code_hash
from app.storage.revisions import lines_of
from app.storage.signatures import signatures_of
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class Shown:
    """Everything that the open look-up is made of, but for the day and the documents, which never
    change once they are signed."""

    agency: Agency
    crew_code: str | None
    lines: tuple[RevisionLine, ...]
    signatures: tuple[Signature, ...]
    waivers: tuple[Waiver, ...]


@dataclass(frozen=True)
class PolicyMark:
    """As long as `shown` is the same object, so is the look-up. `entries`: how many changes the
    agency's ledger holds, for whatever changes is in there; `until`: when time alone changes it."""

    entries: int
    until: datetime
    shown: Shown

    def holds(self, entries: int, now: datetime) -> bool:
        return entries == self.entries and now < self.until


def policy_mark(
    tx: Session, *, agency: str, before: PolicyMark | None, now: datetime
) -> PolicyMark | None:
    """`before` itself where nothing happened since, its `shown` where nothing happened that is
    shown: devices are read all day long. None for an agency that does not exist."""
    head = ledger.head_of(tx, agency)
    if head is None:
        return None
    if before is not None and before.holds(head[0], now):
        return before
    owner = agency_by_key(tx, agency)
    if owner is None:
        return None
    shown = _shown(tx, owner, now)
    if before is not None and now < before.until and shown == before.shown:
        shown = before.shown
    return PolicyMark(head[0], next_turn(tx, agency_id=owner.id, now=now), shown)


def _shown(tx: Session, owner: Agency, now: datetime) -> Shown:
    """Drafts are left out: nobody who looks limits up sees one."""
    lines = tuple(line for line in lines_of(tx, owner.id) if line.came_into_force)
    begun = [line.id for line in lines if line.in_force_at is not None and line.in_force_at <= now]
    return Shown(
        owner,
        crew_code_hash(tx, owner.id),
        lines,
        signatures_of(tx, begun[-1]) if begun else (),
        waivers_of(tx, begun[-1]) if begun else (),
    )
