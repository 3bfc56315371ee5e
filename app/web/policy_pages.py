"""What the pages of the policy show, put together from one revision."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.domain.age_axis import MARKS, WALK_STEPS, AxisMark, age_of_step, step_of_age
from app.domain.age_strip import Strip, strip
from app.domain.ages import Age
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.corridor import Corridor, corridor
from app.domain.corridor_shapes import at_age
from app.domain.errors import MarchstoneError, Refused
from app.domain.findings import Finding, Severity
from app.domain.moves import Move, RevisionStatus, check_reviewer, moves_open_to
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.profiles import Profile
from app.domain.redline import Redline, redline, state_words
from app.domain.revisions import StoredRevision
from app.domain.rules import check
from app.domain.rules.statements import blanks_of
from app.domain.settings_of_alarms import Off, On, Setting
from app.domain.written_limits import show_deep, show_limit
from app.lookups.policy import ListedRevision, OpenRevision, open_revision
from app.web.transactions import Transaction

FIRST_AGE = "7 mo"


@dataclass(frozen=True)
class Asked:
    """The age in hand, from a typed age or a place on the walk; `wrong` says what was no age."""

    age: Age
    wrong: str = ""

    @property
    def step(self) -> int:
        return step_of_age(self.age)


def asked_age(age: str = "", at: int | None = None) -> Asked:
    if at is not None:
        return Asked(age_of_step(at))
    try:
        return Asked(Age.parse(age.strip() or FIRST_AGE))
    except ValueError as error:
        return Asked(Age.parse(FIRST_AGE), str(error))


@dataclass(frozen=True)
class Cell:
    """One alarm of one category; `gravest` is the worst finding that names it."""

    category: PatientCategory
    alarm: AlarmCondition
    setting: Setting | None
    missing: tuple[str, ...]
    gravest: Severity | None

    @property
    def id(self) -> str:
        return f"cell-{self.category.key}-{self.alarm.key}"

    @property
    def words(self) -> str:
        if not isinstance(self.setting, On):
            return state_words(self.setting)
        if self.setting.limit is None:
            return "on"
        limit = show_limit(self.setting, self.alarm)
        side = {"low": "below", "high": "above"}[self.alarm.side]
        unit = "" if self.setting.unit not in (None, self.alarm.unit) else f" {self.alarm.shown}"
        return f"{side if self.alarm.vital_sign else 'after'} {limit}{unit}"

    @property
    def deep_words(self) -> str:
        if not isinstance(self.setting, On) or self.setting.deep is None:
            return ""
        return f"deep line {show_deep(self.setting, self.setting.deep, self.alarm)}"


@dataclass(frozen=True)
class GridRow:
    alarm: AlarmCondition
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class AgeView:
    """The strip and the line across the corridor at one age."""

    base: str
    strip: Strip
    asked: Asked
    can_edit: bool
    edit_version: int
    lanes: int
    last_step: int = WALK_STEPS

    @property
    def x(self) -> float:
        return at_age(self.asked.age)

    @property
    def written(self) -> str:
        return str(self.asked.age)


@dataclass(frozen=True)
class WorkPage:
    """One revision: corridor, strip, findings, grid, what changed, and what may be done next."""

    base: str
    revision: StoredRevision
    profile: Profile
    corridor: Corridor
    view: AgeView
    findings: list[Finding]
    rows: tuple[GridRow, ...]
    in_force: StoredRevision | None
    redline: Redline | None
    moves: Mapping[RevisionStatus, Move]
    may_review: bool
    bounds: str
    said: str = ""
    cells: tuple[Cell, ...] = ()  # those to swap after an edit
    form_done: bool = False  # the edit came from the cell's form, which can go
    marks: tuple[AxisMark, ...] = MARKS

    @property
    def can_edit(self) -> bool:
        return self.view.can_edit

    def count(self, severity: Severity) -> int:
        return sum(finding.severity is severity for finding in self.findings)

    def concerned(self, finding: Finding) -> tuple[str, ...]:
        return concerned(self.profile, finding)

    @property
    def in_words(self) -> str:
        """How the check stands, in one line."""
        counts = [
            f"{count} {s.value}{'s' if s is Severity.NOTE and count > 1 else ''}"
            for s in Severity
            if (count := self.count(s))
        ]
        return f"{', '.join(counts)}." if counts else "Nothing was found."


def age_view(base: str, found: OpenRevision, asked: Asked, person: Person, lanes: int) -> AgeView:
    return AgeView(
        base,
        strip(found.profile, asked.age, bounds=found.bounds),
        asked,
        can_edit=can_edit(found.revision, person),
        edit_version=found.revision.edit_version,
        lanes=lanes,
    )


def can_edit(revision: StoredRevision, person: Person) -> bool:
    return revision.status is RevisionStatus.DRAFT and may(person, Deed.EDIT_DRAFT)


def base_of(person: Person, number: int) -> str:
    return f"/{person.agency}/policy/{number}"


def work_page(
    tx: Transaction, *, number: int, person: Person, now: datetime, asked: Asked
) -> WorkPage:
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    base, held = base_of(person, number), found.profile_in_force
    drawn = corridor(found.profile, held, bounds=found.bounds)
    findings = check(found.profile, bounds=found.bounds)
    return WorkPage(
        base=base,
        revision=found.revision,
        profile=found.profile,
        corridor=drawn,
        view=age_view(base, found, asked, person, len(drawn.lanes)),
        findings=findings,
        rows=grid(found.profile, findings),
        in_force=found.in_force,
        redline=None if held is None else redline(held, found.profile),
        moves=moves_open_to(person, found.revision.status),
        may_review=may_review(found.revision, person),
        bounds=found.bounds.name,
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


def concerned(profile: Profile, finding: Finding) -> tuple[str, ...]:
    """The alarms to look at: those set on or off, since a spare sensor is at no fault.

    All of them where none is.
    """
    settings = profile.of_category(finding.category or "")
    stated = tuple(key for key in finding.alarms if isinstance(settings.get(key), On | Off))
    return stated or finding.alarms


def grid(profile: Profile, findings: Iterable[Finding]) -> tuple[GridRow, ...]:
    worst: dict[tuple[str | None, str], Severity] = {}
    for finding in findings:  # the gravest come first
        for alarm in concerned(profile, finding):
            if finding.rule != "alarm-unstated":
                worst.setdefault((finding.category, alarm), finding.severity)
    missing = {c.key: blanks_of(profile.of_category(c.key)) for c in profile.categories}
    return tuple(
        GridRow(
            alarm,
            tuple(
                Cell(
                    category,
                    alarm,
                    profile.of_category(category.key).get(alarm.key),
                    missing[category.key].get(alarm.key, ()),
                    worst.get((category.key, alarm.key)),
                )
                for category in profile.categories
            ),
        )
        for alarm in ALARM_CONDITIONS.values()
    )


@dataclass(frozen=True)
class PolicyPage:
    """All revisions, and how a new draft begins."""

    revisions: list[ListedRevision]
    can_start: bool
    refused: Refused | None = None
    file_name: str = ""

    @property
    def newest(self) -> int | None:
        """What a new draft most likely starts from: in force, else the newest."""
        held = [r.line.number for r in self.revisions if r.line.status is RevisionStatus.IN_FORCE]
        return next(iter(held or [r.line.number for r in self.revisions]), None)
