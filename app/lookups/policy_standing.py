"""What stands beside a revision's limits wherever they show: what is overdue and what is waived."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session

from app.domain.local_days import local_day
from app.domain.revision_warnings import RevisionWarning, overdue, revision_warnings
from app.domain.revisions import RevisionLine
from app.domain.waivers import Waiver, waived_among
from app.storage.agencies import agency_by_id
from app.storage.revisions import lines_of
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class PolicyStanding:
    """Of a revision that is signed. `today` is of the agency's zone."""

    standing: tuple[Waiver, ...]
    overdue: tuple[RevisionWarning, ...]
    today: date

    def waived(self, categories: Collection[str], alarm: str) -> tuple[Waiver, ...]:
        return waived_among(self.standing, categories, alarm)


def policy_standing(
    tx: Session, *, agency_id: int, number: int | None, now: datetime
) -> PolicyStanding:
    """`number` None: nothing was in force, so nothing stands there."""
    zone = agency_by_id(tx, agency_id).time_zone
    line = next((one for one in lines_of(tx, agency_id) if one.number == number), None)
    return standing_beside(tx, line, zone=zone, now=now)


def standing_beside(
    tx: Session, line: RevisionLine | None, *, zone: str, now: datetime
) -> PolicyStanding:
    """One statement."""
    today = local_day(now, zone)
    if line is None or line.signed_at is None:
        return PolicyStanding((), (), today)
    waivers = waivers_of(tx, line.id)
    warnings = revision_warnings(line, waivers, now=now, zone=zone)
    return PolicyStanding(waivers, overdue(warnings), today)
