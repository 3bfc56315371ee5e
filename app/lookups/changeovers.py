"""What devices hold beside the revision in force today."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import LOOKED_BACK, Gap, InForce
from app.domain.reading_block import reading_block
from app.domain.revisions import RevisionLine, earlier_numbers
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage.devices_now import Held, held_beside
from app.storage.layouts import columns_from
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.revisions import documents_of


def in_force_today(
    tx: Session,
    *,
    agency_id: int,
    lines: Sequence[RevisionLine],
    changeover: timedelta,
    now: datetime,
) -> InForce | None:
    """None where nothing is in force, or nothing was before it, so that nothing has to reach."""
    line = next((line for line in lines if line.holds_at(now)), None)
    if line is None or line.in_force_at is None:
        return None
    older = earlier_numbers(lines, line.number, most=LOOKED_BACK)
    if not older:
        return None
    documents = documents_of(tx, agency_id=agency_id, numbers=[line.number, *older])
    return InForce(
        line.number,
        line.in_force_at,
        stored_profile(documents[line.number]),
        stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now)),
        {number: stored_profile(documents[number]) for number in older},
        changeover,
    )


def gaps(tx: Session, *, agency_id: int, today: InForce, tags: Sequence[str]) -> dict[str, Gap]:
    """Of these devices, by tag, only where there is one."""
    held = held_beside(tx, agency_id, began=today.began, tags=tags)
    return gaps_of(today, held)


def gaps_of(today: InForce, held: Mapping[str, Held]) -> dict[str, Gap]:
    """Devices of one model and layout are held against it together."""
    alike: dict[tuple[str, str], list[str]] = defaultdict(list)
    for tag, one in held.items():
        alike[one.model, one.columns].append(tag)
    found: dict[str, Gap] = {}
    for (model, columns), some in alike.items():
        block = reading_block(columns_from(columns), [held[tag].packed for tag in some])
        told = BlockAgainst(today, model, block.layout).gaps(block)
        found |= {some[row]: gap for row, gap in told.items()}
    return found
