"""What tells, at the price of one row, whether the open look-up may say something else by now."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.lookups.limits import next_turn
from app.storage import ledger
from app.storage.agencies import agency_by_key


@dataclass(frozen=True, eq=False)
class PolicyMark:
    """As long as an agency's is the same object, so is its look-up. `entries`: how many changes
    its ledger holds, for whatever changes is in there; `until`: when time alone changes it."""

    entries: int
    until: datetime

    def holds(self, entries: int, now: datetime) -> bool:
        return entries == self.entries and now < self.until


def policy_mark(
    tx: Session, *, agency: str, before: PolicyMark | None, now: datetime
) -> PolicyMark | None:
    """`before` itself where nothing happened since; None for an agency that does not exist."""
    head = ledger.head_of(tx, agency)
    if head is None:
        return None
    if before is not None and before.holds(head[0], now):
        return before
    owner = agency_by_key(tx, agency)
    if owner is None:
        return None
    return PolicyMark(head[0], next_turn(tx, agency_id=owner.id, now=now))
