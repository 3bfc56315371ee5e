"""A numbered version of a policy, and when it was, is or will be in force."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import Self, TypeVar

from app.domain.errors import NotNow, Refused
from app.domain.local_days import years_later
from app.domain.moves import RevisionStatus

AFTER_REVIEW_WITHIN = timedelta(days=30)
REVIEW_YEARS, MOST_REVIEW_YEARS = 1, 3  # common practice


@dataclass(frozen=True)
class RevisionLine:
    """A revision without its document.

    `status` is what a person decided: draft, in review, signed or withdrawn. In force and
    superseded are facts of the clock, told by `as_of`, so nothing has to run at midnight and
    nothing is wrong when it did not. `review_by` is a day of the agency's zone, given at signing;
    `emergency` the reason for which it was signed without a second person, or None.
    """

    id: int
    number: int
    status: RevisionStatus
    fingerprint: str
    edit_version: int
    created_at: datetime
    changed_at: datetime
    note: str = ""
    signed_at: datetime | None = None
    in_force_at: datetime | None = None
    withdrawn_at: datetime | None = None
    review_by: date | None = None
    emergency: str | None = None
    reviewed_at: datetime | None = None
    until: datetime | None = None

    @property
    def came_into_force(self) -> bool:
        """Or will; a revision withdrawn before its time never does."""
        return self.in_force_at is not None and (
            self.withdrawn_at is None or self.withdrawn_at > self.in_force_at
        )

    @property
    def never_began(self) -> bool:
        """Signed for a time, and withdrawn before it."""
        return self.in_force_at is not None and not self.came_into_force

    def holds_at(self, at: datetime) -> bool:
        return (
            self.in_force_at is not None
            and self.came_into_force
            and self.in_force_at <= at
            and (self.until is None or at < self.until)
        )

    @property
    def after_review_due(self) -> datetime | None:
        """When somebody else must have looked at what was signed alone; None: nobody must."""
        if self.emergency is None or self.signed_at is None or self.reviewed_at is not None:
            return None
        return self.signed_at + AFTER_REVIEW_WITHIN

    def as_of(self, now: datetime) -> Self:
        return replace(self, status=self._status_at(now))

    def _status_at(self, now: datetime) -> RevisionStatus:
        if self.withdrawn_at is not None and self.withdrawn_at <= now:
            return RevisionStatus.WITHDRAWN
        if self.in_force_at is None:
            return self.status
        if now < self.in_force_at:
            return RevisionStatus.SIGNED
        if self.until is not None and self.until <= now:
            return RevisionStatus.SUPERSEDED
        return RevisionStatus.IN_FORCE


Line = TypeVar("Line", bound=RevisionLine)


@dataclass(frozen=True)
class Signature:
    """`roles` are those held when signing; `fingerprint` is of what was signed."""

    person_id: int
    username: str
    name: str
    roles: tuple[str, ...]
    at: datetime
    meaning: str
    fingerprint: str


@dataclass(frozen=True)
class Author:
    person_id: int
    name: str


@dataclass(frozen=True)
class Review:
    person_id: int
    name: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class StoredRevision(RevisionLine):
    """`document` is the profile's JSON in its RFC 8785 form, exactly as signed."""

    document: str
    authors: tuple[Author, ...] = ()
    review: Review | None = None
    signatures: tuple[Signature, ...] = ()

    @property
    def author_ids(self) -> frozenset[int]:
        return frozenset(author.person_id for author in self.authors)


def with_ends(lines: Iterable[RevisionLine]) -> list[RevisionLine]:
    """Fills in `until`: each revision ends where the next begins, or where it was withdrawn; one
    that never began has no end. In the order of their numbers."""
    lines = list(lines)
    begun = in_order_of_force(lines)
    following = {line.id: later.in_force_at for line, later in pairwise(begun)}
    ended = [
        replace(line, until=_end(line, following.get(line.id))) if line.came_into_force else line
        for line in lines
    ]
    return sorted(ended, key=lambda line: line.number)


def in_order_of_force(lines: Iterable[Line]) -> list[Line]:
    """Those that came into force or will, the first first; of two at once the later number holds.

    Not the order of their numbers: a change may be signed for now while an earlier number waits.
    """
    begun = [(line.in_force_at, line.number, line) for line in lines if line.came_into_force]
    return [line for *_, line in sorted(begun, key=lambda one: one[:2])]


def _end(line: RevisionLine, following: datetime | None) -> datetime | None:
    return min((end for end in (following, line.withdrawn_at) if end is not None), default=None)


def earlier_numbers(lines: Iterable[RevisionLine], number: int, *, most: int) -> list[int]:
    """The revisions that were in force before this one, the latest first; for one that never
    began, those of lower number."""
    order = [line.number for line in in_order_of_force(lines)]
    if number in order:
        before = order[: order.index(number)]
    else:
        before = [other for other in order if other < number]
    return before[::-1][:most]


def waiting_lines(lines: Iterable[Line], *, after: datetime, but: int) -> list[Line]:
    """Those signed for a later time, beside the one numbered `but`: each takes over at its time
    from whatever is in force then."""
    return [
        line
        for line in in_order_of_force(lines)
        if line.number != but and line.in_force_at is not None and line.in_force_at > after
    ]


def check_beginning(
    lines: Iterable[RevisionLine], *, number: int, in_force_at: datetime, now: datetime
) -> None:
    """Never before the signing, and numbers are signed in their order: a draft knows nothing of
    what was signed after it began."""
    if in_force_at < now:
        raise Refused.because("this time has passed", column="in_force_at")
    for other in lines:
        if other.signed_at is not None and now < other.signed_at:
            # The earlier one would come into force after the later one, and hold in its place.
            raise NotNow(
                f"The clock of this service is behind the signature of revision {other.number}. "
                "Have it set right first: signed now, this revision would begin in the past."
            )
        if other.came_into_force and other.number > number:
            raise NotNow(f"Revision {other.number} is signed already; start a new draft from it.")


def check_review_by(review_by: date, *, begins: date) -> None:
    if review_by <= begins:
        raise Refused.because("choose a day after it comes into force", column="review_by")
    if review_by > years_later(begins, MOST_REVIEW_YEARS):
        raise Refused.because(f"choose a day within {MOST_REVIEW_YEARS} years", column="review_by")
