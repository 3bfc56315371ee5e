"""What stands between a revision and its signature."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from app.domain.errors import Fault
from app.domain.findings import Severity
from app.domain.local_days import day_words
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.revision_comments import Comment, unresolved
from app.domain.rules import blanks, check
from app.domain.waivers import UnsafeFinding, Waiver, unsafe_findings, void_waivers

Blank = tuple[str, str, tuple[str, ...]]
"""Category, alarm, and which parts are left blank."""


@dataclass(frozen=True)
class SigningTerms:
    """In force at once, and to be reviewed within a year, unless another time or day is given.

    `emergency`: why no second person looks first; then somebody else must afterwards.
    """

    in_force_at: datetime | None = None
    review_by: date | None = None
    emergency: str = ""


@dataclass(frozen=True)
class BeforeSigning:
    """`notes`: how many findings are short of unsafe. `void`: waivers that match no finding."""

    blank: tuple[Blank, ...]
    unsafe: tuple[UnsafeFinding, ...]
    void: tuple[Waiver, ...]
    comments: tuple[Comment, ...]
    notes: int

    def unwaived(self, begins: date) -> tuple[UnsafeFinding, ...]:
        return tuple(one for one in self.unsafe if not one.is_waived_on(begins))

    def waived(self, begins: date) -> tuple[Waiver, ...]:
        """Those that the signature takes with it."""
        held = (one.waiver for one in self.unsafe if one.is_waived_on(begins))
        return tuple(waiver for waiver in held if waiver is not None)

    def is_clear(self, begins: date) -> bool:
        return not any(self.faults(begins))

    def faults(self, begins: date) -> Iterator[Fault]:
        """Each one blocks the signature of a revision that comes into force on that day."""
        for category, alarm, parts in self.blank:
            yield Fault(f"{', '.join(parts)} left blank", column=f"{category} {alarm}")
        for one in self.unwaived(begins):
            yield Fault(_told(one), column=one.finding.rule)
        for comment in self.comments:
            where = "comment" if comment.category is None else f"{comment.category} {comment.alarm}"
            yield Fault(f"comment of {comment.by_name} not resolved", column=where)


def _told(one: UnsafeFinding) -> str:
    if one.waiver is None:
        return one.finding.message
    ended = f"its waiver holds only until {day_words(one.waiver.until)}"
    return f"{one.finding.message} ({ended})"


def before_signing(
    profile: Profile,
    *,
    bounds: OuterBounds,
    waivers: Iterable[Waiver],
    comments: Iterable[Comment],
) -> BeforeSigning:
    """`bounds`: those that hold when it comes into force."""
    waivers = tuple(waivers)
    findings = check(profile, bounds=bounds)
    unsafe = unsafe_findings(findings, waivers)
    return BeforeSigning(
        blank=tuple(blanks(profile)),
        unsafe=unsafe,
        void=void_waivers(unsafe, waivers),
        comments=unresolved(comments),
        notes=sum(finding.severity is not Severity.UNSAFE for finding in findings),
    )
