"""What devices hold beside the revision in force today."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.changeover import LOOKED_BACK, Gap, InForce
from app.domain.revisions import RevisionLine, earlier_numbers
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage.devices_now import Held, held_beside
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


def gaps(tx: Session, *, agency_id: int, today: InForce) -> dict[str, Gap]:
    """By tag, only where there is one. Devices that hold alike are held against it once."""
    held = held_beside(tx, agency_id, began=today.began)
    known: dict[Held, Gap] = {}
    for one in set(held.values()):
        known[one] = today.gap(one.model, one.readings())
    return {tag: known[one] for tag, one in held.items() if known[one].differs}
