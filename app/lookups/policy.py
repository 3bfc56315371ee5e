"""The revisions of an agency's policy, and one of them beside what is in force."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from sqlmodel import Session

from app.domain.local_days import local_day
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.revision_comments import Comment
from app.domain.revision_warnings import RevisionWarning
from app.domain.revisions import RevisionLine, StoredRevision, waiting_lines
from app.domain.signing import BeforeSigning, before_signing
from app.domain.waivers import Waiver
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.revision_warnings import warnings_of
from app.lookups.revisions import all_revisions, in_force, revision
from app.storage.agencies import agency_by_id
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.revision_comments import comments_of
from app.storage.signatures import signatures_of
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class ListedRevision:
    line: RevisionLine
    signed_by: tuple[str, ...]
    warnings: tuple[RevisionWarning, ...]


@dataclass(frozen=True)
class OpenRevision:
    """`in_force` None: nothing is, or it is this very revision. `bounds` judge it now."""

    revision: StoredRevision
    profile: Profile
    in_force: StoredRevision | None
    bounds: OuterBounds
    waivers: tuple[Waiver, ...]
    comments: tuple[Comment, ...]
    warnings: tuple[RevisionWarning, ...]
    today: date  # in the agency's zone
    waiting: tuple[RevisionLine, ...] = ()  # others that are signed for a later time

    def edited(self, revision: StoredRevision) -> "OpenRevision":
        """As it stands after an edit of the draft, with nothing else asked for anew."""
        return replace(self, revision=revision, profile=stored_profile(revision.document))

    @property
    def before_signing(self) -> BeforeSigning:
        return before_signing(
            self.profile, bounds=self.bounds, waivers=self.waivers, comments=self.comments
        )

    @property
    def profile_in_force(self) -> Profile | None:
        return None if self.in_force is None else stored_profile(self.in_force.document)


def listed_revisions(tx: Session, *, agency_id: int, now: datetime) -> list[ListedRevision]:
    """The newest first."""
    zone = agency_by_id(tx, agency_id).time_zone
    return [
        ListedRevision(
            line,
            tuple(one.name for one in signatures_of(tx, line.id)),
            warnings_of(tx, line, now=now, zone=zone),
        )
        for line in reversed(all_revisions(tx, agency_id=agency_id, now=now))
    ]


def open_revision(tx: Session, *, agency_id: int, number: int, now: datetime) -> OpenRevision:
    lines = all_revisions(tx, agency_id=agency_id, now=now)
    found = revision(tx, agency_id=agency_id, number=number, now=now, lines=lines)
    held = in_force(tx, agency_id=agency_id, at=now, lines=lines)
    other = held if held is not None and held.number != number else None
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now))
    zone = agency_by_id(tx, agency_id).time_zone
    return OpenRevision(
        found,
        stored_profile(found.document),
        other,
        bounds,
        waivers=waivers_of(tx, found.id),
        comments=comments_of(tx, found.id),
        warnings=warnings_of(tx, found, now=now, zone=zone),
        today=local_day(now, zone),
        waiting=tuple(waiting_lines(lines, after=now, but=number)),
    )
