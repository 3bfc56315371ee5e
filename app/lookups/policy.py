"""The revisions of an agency's policy, and one of them beside what is in force."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.revisions import RevisionLine, StoredRevision
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.revisions import all_revisions, in_force, revision
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.signatures import signatures_of


@dataclass(frozen=True)
class ListedRevision:
    line: RevisionLine
    signed_by: tuple[str, ...]


@dataclass(frozen=True)
class OpenRevision:
    """`in_force` None: nothing is, or it is this very revision. `bounds` judge it now."""

    revision: StoredRevision
    profile: Profile
    in_force: StoredRevision | None
    bounds: OuterBounds

    @property
    def profile_in_force(self) -> Profile | None:
        return None if self.in_force is None else stored_profile(self.in_force.document)


def listed_revisions(tx: Session, *, agency_id: int, now: datetime) -> list[ListedRevision]:
    """The newest first."""
    return [
        ListedRevision(line, tuple(one.name for one in signatures_of(tx, line.id)))
        for line in reversed(all_revisions(tx, agency_id=agency_id, now=now))
    ]


def open_revision(tx: Session, *, agency_id: int, number: int, now: datetime) -> OpenRevision:
    found = revision(tx, agency_id=agency_id, number=number, now=now)
    held = in_force(tx, agency_id=agency_id, at=now)
    other = held if held is not None and held.number != number else None
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now))
    return OpenRevision(found, stored_profile(found.document), other, bounds)
