"""What people decided and said about a revision, as its pages show it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import MarchstoneError
from app.domain.findings import Finding, Severity
from app.domain.local_days import years_later
from app.domain.moves import RevisionStatus, check_after_reviewer
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.revision_comments import Comment, comments_at, unresolved
from app.domain.revision_warnings import RevisionWarning, overdue
from app.domain.revisions import StoredRevision
from app.domain.waivers import (
    LONGEST_YEARS,
    UnsafeFinding,
    Waiver,
    finding_key,
    unsafe_findings,
    void_waivers,
    waived_at,
)
from app.lookups.policy import OpenRevision
from app.web.policy_grid import Cell, GridRow, grid

_NOT_SIGNED = frozenset({RevisionStatus.DRAFT, RevisionStatus.IN_REVIEW})


@dataclass(frozen=True)
class Desk:
    """`unsafe` by the key of the finding; `void` waivers match none of them any more."""

    unsafe: Mapping[str, UnsafeFinding]
    void: tuple[Waiver, ...]
    waivers: tuple[Waiver, ...]
    comments: tuple[Comment, ...]
    warnings: tuple[RevisionWarning, ...]
    today: date
    categories: Mapping[str, str]  # labels
    can_waive: bool
    can_comment: bool

    def of(self, finding: Finding) -> UnsafeFinding | None:
        return self.unsafe[finding_key(finding)] if finding.severity is Severity.UNSAFE else None

    def waived(self, category: str, alarm: str) -> tuple[Waiver, ...]:
        """In the grid and the strip, which show no circumstance."""
        return tuple(waived_at(self.standing, category, alarm))

    def unresolved_at(self, category: str, alarm: str) -> int:
        return len(unresolved(comments_at(self.comments, category, alarm)))

    def place(self, comment: Comment) -> str:
        """Empty for the whole revision; a category that was removed since is told by its key."""
        if comment.category is None or comment.alarm is None:
            return ""
        category = self.categories.get(comment.category, comment.category)
        return f"{category}, {ALARM_CONDITIONS[comment.alarm].label}"

    @property
    def unresolved(self) -> tuple[Comment, ...]:
        return unresolved(self.comments)

    @property
    def waived_in_words(self) -> str:
        """How many of the unsafe are waived today; empty where nothing is unsafe."""
        waived = sum(one.is_waived_on(self.today) for one in self.unsafe.values())
        return f"{waived} of {len(self.unsafe)} unsafe waived." if self.unsafe else ""

    @property
    def overdue(self) -> tuple[RevisionWarning, ...]:
        return overdue(self.warnings)

    @property
    def standing(self) -> tuple[Waiver, ...]:
        """For pages on which a limit may show anywhere."""
        return tuple(one for one in self.waivers if one not in self.void)

    @property
    def last_day(self) -> date:
        return years_later(self.today, LONGEST_YEARS)


def standing_waivers(found: OpenRevision, findings: Iterable[Finding]) -> tuple[Waiver, ...]:
    """Those whose finding is there as it was waived; once signed, all that were signed with it."""
    void = _void(found, unsafe_findings(findings, found.waivers))
    return tuple(waiver for waiver in found.waivers if waiver not in void)


def _void(found: OpenRevision, unsafe: Sequence[UnsafeFinding]) -> tuple[Waiver, ...]:
    """Bounds that are signed later make another finding of what was waived, and no waiver void."""
    if found.revision.status not in _NOT_SIGNED:
        return ()
    return void_waivers(unsafe, found.waivers)


def desk_of(found: OpenRevision, findings: Iterable[Finding], person: Person) -> Desk:
    unsafe = unsafe_findings(findings, found.waivers)
    before = found.revision.status in _NOT_SIGNED
    return Desk(
        unsafe={one.key: one for one in unsafe},
        void=_void(found, unsafe),
        waivers=found.waivers,
        comments=found.comments,
        warnings=found.warnings,
        today=found.today,
        categories={one.key: one.label for one in found.profile.categories},
        can_waive=before and may(person, Deed.WAIVE_FINDING),
        can_comment=before and may(person, Deed.COMMENT),
    )


def grid_of(found: OpenRevision, findings: Iterable[Finding], desk: Desk) -> tuple[GridRow, ...]:
    """The grid with what was waived and said at each cell."""
    rows = grid(found.profile, findings, can_comment=desk.can_comment)
    if not (desk.waivers or desk.comments):
        return rows
    return tuple(
        GridRow(row.alarm, tuple(_marked(cell, desk) for cell in row.cells)) for row in rows
    )


def _marked(cell: Cell, desk: Desk) -> Cell:
    place = (cell.category.key, cell.alarm.key)
    return replace(
        cell,
        waived=tuple(waiver.mark for waiver in desk.waived(*place)),
        comments=desk.unresolved_at(*place),
    )


def may_review_after(revision: StoredRevision, person: Person) -> bool:
    """Whether this person may be the second pair of eyes on what was signed alone."""
    if revision.after_review_due is None or not may(person, Deed.REVIEW_DRAFT):
        return False
    signers = {one.person_id for one in revision.signatures}
    try:
        check_after_reviewer(reviewer=person.id, authors=revision.author_ids, signers=signers)
    except MarchstoneError:
        return False
    return True
