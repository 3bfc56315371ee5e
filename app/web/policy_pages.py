"""What the pages of the policy show, put together from one revision."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Annotated
from urllib.parse import parse_qs, urlsplit

from fastapi import Query, Request
from pydantic import BaseModel, Field

from app.domain.age_axis import WALK_STEPS, age_of_step, step_of_age
from app.domain.age_strip import Strip, strip
from app.domain.ages import Age
from app.domain.blank_cells import blank_cells
from app.domain.corridor_shapes import at_age
from app.domain.errors import MarchstoneError, Refused
from app.domain.findings import Finding
from app.domain.moves import Move, RevisionStatus, check_reviewer, moves_open_to
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.profiles import Profile
from app.domain.redline import Redline, redline
from app.domain.revision_warnings import RevisionWarning
from app.domain.revisions import StoredRevision
from app.domain.sources_at import SourcesAt
from app.domain.waivers import Waiver, waived_at
from app.lookups.policy import ListedRevision, OpenRevision, open_revision
from app.lookups.policy_judged import judged
from app.web.policy_corridor import (
    CorridorView,
    corridor_view,
    lanes_that_differ,
    sources_here,
    sources_view,
)
from app.web.policy_desk import Desk, desk_of, grid_of, may_review_after, standing_waivers
from app.web.policy_grid import BlankCount, Cell, GridRow, concerned
from app.web.transactions import Transaction

FIRST_AGE = "7 mo"


@dataclass(frozen=True)
class Asked:
    """The age in hand, from a typed age or a place on the walk; `wrong` says what was no age."""

    age: Age
    wrong: str = ""
    sources: bool = False  # whether every source's bounds are shown

    @property
    def step(self) -> int:
        return step_of_age(self.age)


def asked_age(age: str = "", at: int | None = None, *, sources: bool = False) -> Asked:
    if at is not None:
        return Asked(age_of_step(at), sources=sources)
    try:
        return Asked(Age.parse(age.strip() or FIRST_AGE), sources=sources)
    except ValueError as error:
        return Asked(Age.parse(FIRST_AGE), str(error), sources)


class LookingAt(BaseModel):
    """At which age, typed or walked to, and whether beside every source; `lanes` are drawn."""

    age: Annotated[str, Field(max_length=60)] = ""
    at: Annotated[int | None, Field(ge=0, le=1000)] = None
    sources: bool = False
    lanes: Annotated[int, Field(ge=0, le=20)] = 0

    @property
    def asked(self) -> Asked:
        return asked_age(self.age, self.at, sources=self.sources)


Looking = Annotated[LookingAt, Query()]


def shows_sources(request: Request) -> bool:
    """Whether the page from which htmx asks shows every source's bounds."""
    address = request.headers.get("hx-current-url", "")
    return "sources" in parse_qs(urlsplit(address).query)


@dataclass(frozen=True)
class AgeView:
    """The strip and the line across the corridor at one age."""

    base: str
    strip: Strip
    asked: Asked
    can_edit: bool
    edit_version: int
    lanes: int
    waivers: tuple[Waiver, ...]
    sources_at: tuple[SourcesAt, ...] = ()
    last_step: int = WALK_STEPS

    @property
    def x(self) -> float:
        return at_age(self.asked.age)

    def waived(self, alarm: str) -> tuple[str, ...]:
        category = self.strip.category
        held = () if category is None else waived_at(self.waivers, category.key, alarm)
        return tuple(waiver.words for waiver in held)

    @property
    def written(self) -> str:
        return str(self.asked.age)


@dataclass(frozen=True)
class WorkPage:
    """One revision: corridor, strip, findings, grid, what changed, and what may be done next."""

    base: str
    revision: StoredRevision
    profile: Profile
    drawn: CorridorView
    view: AgeView
    findings: Sequence[Finding]
    rows: tuple[GridRow, ...]
    in_force: StoredRevision | None
    redline: Redline | None
    moves: Mapping[RevisionStatus, Move]
    may_review: bool
    bounds: str
    desk: Desk
    said: str = ""
    cells: tuple[Cell, ...] = ()  # those to swap after an edit
    whole_grid: bool = False  # somebody else's edit may be anywhere
    form_done: bool = False  # the edit came from the cell's form, which can go
    focus: str = ""  # the cell in which the person goes on
    before: str = ""  # what takes the edit back, as JSON; empty: there is nothing to take back

    @property
    def can_edit(self) -> bool:
        return self.view.can_edit

    @cached_property
    def blanks(self) -> BlankCount:
        return BlankCount(blank_cells(self.profile))

    def concerned(self, finding: Finding) -> tuple[str, ...]:
        return concerned(self.profile, finding)

    @property
    def in_words(self) -> str:
        return self.drawn.told


def strip_view(base: str, found: OpenRevision, asked: Asked, person: Person, lanes: int) -> AgeView:
    """The view alone, with what the sources say where they are shown."""
    view = age_view(base, found, asked, person, lanes)
    if not asked.sources:
        return view
    return replace(view, sources_at=sources_here(judged(found), asked.age))


def age_view(base: str, found: OpenRevision, asked: Asked, person: Person, lanes: int) -> AgeView:
    return AgeView(
        base,
        strip(found.profile, asked.age, bounds=found.bounds),
        asked,
        can_edit=can_edit(found.revision, person),
        edit_version=found.revision.edit_version,
        lanes=lanes,
        waivers=standing_waivers(found, judged(found).findings) if found.waivers else (),
    )


def can_edit(revision: StoredRevision, person: Person) -> bool:
    return revision.status is RevisionStatus.DRAFT and may(person, Deed.EDIT_DRAFT)


def base_of(person: Person, number: int) -> str:
    return f"/{person.agency}/policy/{number}"


def work_page(
    tx: Transaction,
    *,
    number: int,
    person: Person,
    now: datetime,
    asked: Asked,
) -> WorkPage:
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return page_of(found, person, asked)


def page_of(
    found: OpenRevision, person: Person, asked: Asked, before: OpenRevision | None = None
) -> WorkPage:
    """`before` is what the reader's page still shows; only lanes that differ are then swapped."""
    shown = None if before is None else judged(before)
    base, answer = base_of(person, found.revision.number), judged(found)
    drawn = corridor_view(base, found, answer, can_edit=can_edit(found.revision, person))
    if shown is not None:
        drawn = replace(drawn, swapped=lanes_that_differ(shown.corridor, answer.corridor))
    if asked.sources:
        drawn = replace(drawn, sources=sources_view(answer, asked.age))
    desk = desk_of(found, answer.findings, person)
    return WorkPage(
        base=base,
        revision=found.revision,
        profile=found.profile,
        drawn=drawn,
        view=age_view(base, found, asked, person, len(drawn.lanes)),
        findings=answer.findings,
        rows=grid_of(found, answer.findings, desk),
        in_force=found.in_force,
        redline=None if answer.held is None else redline(answer.held, found.profile, found.bounds),
        moves=moves_open_to(person, found.revision.status),
        may_review=may_review(found.revision, person) or may_review_after(found.revision, person),
        bounds=found.bounds.name,
        desk=desk,
    )


def may_review(revision: StoredRevision, person: Person) -> bool:
    waiting = revision.status is RevisionStatus.IN_REVIEW and revision.review is None
    if not waiting or not may(person, Deed.REVIEW_DRAFT):
        return False
    try:
        check_reviewer(reviewer=person.id, authors=revision.author_ids)
    except MarchstoneError:
        return False
    return True


@dataclass(frozen=True)
class PolicyPage:
    """All revisions, and how a new draft begins."""

    revisions: list[ListedRevision]
    can_start: bool
    refused: Refused | None = None
    file_name: str = ""

    @property
    def warnings(self) -> tuple[RevisionWarning, ...]:
        return tuple(warning for one in self.revisions for warning in one.warnings)

    @property
    def newest(self) -> int | None:
        """What a new draft most likely starts from: in force, else the newest."""
        held = [r.line.number for r in self.revisions if r.line.status is RevisionStatus.IN_FORCE]
        return next(iter(held or [r.line.number for r in self.revisions]), None)
