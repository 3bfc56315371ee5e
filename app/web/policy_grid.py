"""The grid of a revision: every alarm of every category, and what is to be told of each."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.blank_cells import BlankCell, blank_cells
from app.domain.findings import Finding, Severity
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.redline import state_words
from app.domain.settings_of_alarms import Latitude, Off, On, Setting, show_number
from app.domain.written_limits import show_deep, show_limit


def cell_id(category: str, alarm: str) -> str:
    """Of the cell on the page."""
    return f"cell-{category}-{alarm}"


@dataclass(frozen=True)
class Cell:
    """One alarm of one category; `gravest` is the worst finding that names it.

    `waived` says what its director accepts there, `comments` counts the unresolved ones.
    """

    category: PatientCategory
    alarm: AlarmCondition
    setting: Setting | None
    missing: tuple[str, ...]
    unexplained: tuple[str, ...]
    gravest: Severity | None
    waived: tuple[str, ...] = ()
    comments: int = 0
    can_comment: bool = False

    @property
    def id(self) -> str:
        return cell_id(self.category.key, self.alarm.key)

    @property
    def blank(self) -> bool:
        return bool(self.missing or self.unexplained)

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
        deep = self.setting.deep
        more = f", {show_number(deep.delay_s)} s" if deep.delay_s is not None else ""
        return f"deep line {show_deep(self.setting, deep, self.alarm)}{more}"

    @property
    def latitude_words(self) -> str:
        latitude = self.setting.latitude if isinstance(self.setting, On | Off) else None
        return "" if latitude is None else _latitude_words(latitude)

    @property
    def left_blank(self) -> str:
        """Empty where nothing is; a cell of which nothing is said tells so by itself."""
        if self.setting is None:
            return ""
        return f"no {', no '.join((*self.missing, *self.unexplained))}" if self.blank else ""


def _latitude_words(latitude: Latitude) -> str:
    told = []
    if latitude.start is not None and latitude.end is not None:
        told.append(f"crew {show_number(latitude.start)} to {show_number(latitude.end)}")
    if latitude.off_by != "nobody":
        told.append(f"{latitude.off_by.replace('-', ' ')} may switch off")
    return ", ".join(told)


@dataclass(frozen=True)
class GridRow:
    alarm: AlarmCondition
    cells: tuple[Cell, ...]


def concerned(profile: Profile, finding: Finding) -> tuple[str, ...]:
    """The alarms to look at: those set on or off, since a spare sensor is at no fault.

    All of them where none is.
    """
    settings = profile.of_category(finding.category or "")
    stated = tuple(key for key in finding.alarms if isinstance(settings.get(key), On | Off))
    return stated or finding.alarms


_TOLD_AS_BLANK = frozenset({"alarm-unstated", "alarm-unsourced"})


def grid(
    profile: Profile, findings: Iterable[Finding], *, can_comment: bool = False
) -> tuple[GridRow, ...]:
    worst = _gravest(profile, findings)
    blank = {(cell.category.key, cell.alarm.key): cell for cell in blank_cells(profile)}
    return tuple(
        GridRow(
            alarm,
            tuple(
                _cell(
                    profile.of_category(category.key).get(alarm.key),
                    category,
                    alarm,
                    blank.get((category.key, alarm.key)),
                    worst.get((category.key, alarm.key)),
                    can_comment=can_comment,
                )
                for category in profile.categories
            ),
        )
        for alarm in ALARM_CONDITIONS.values()
    )


def _gravest(
    profile: Profile, findings: Iterable[Finding]
) -> dict[tuple[str | None, str], Severity]:
    worst: dict[tuple[str | None, str], Severity] = {}
    for finding in findings:  # the gravest come first
        if finding.rule not in _TOLD_AS_BLANK:
            for alarm in concerned(profile, finding):
                worst.setdefault((finding.category, alarm), finding.severity)
    return worst


def _cell(
    setting: Setting | None,
    category: PatientCategory,
    alarm: AlarmCondition,
    told: BlankCell | None,
    gravest: Severity | None,
    *,
    can_comment: bool,
) -> Cell:
    parts, unexplained = (told.parts, told.unexplained) if told else ((), ())
    return Cell(category, alarm, setting, parts, unexplained, gravest, can_comment=can_comment)


def changed_cells(
    before: Sequence[GridRow], after: Sequence[GridRow], edited: Collection[str]
) -> tuple[Cell, ...]:
    """Those to show anew: a change of one cell can lift or bring a finding of another.

    `edited` are the ids of cells that were saved, changed or not.
    """
    was = {cell.id: cell for row in before for cell in row.cells}
    return tuple(
        cell for row in after for cell in row.cells if cell.id in edited or was.get(cell.id) != cell
    )


@dataclass(frozen=True)
class BlankCount:
    """What the count above the grid and the list under it say."""

    cells: tuple[BlankCell, ...]

    @property
    def by_category(self) -> dict[PatientCategory, list[BlankCell]]:
        found: dict[PatientCategory, list[BlankCell]] = {}
        for cell in self.cells:
            found.setdefault(cell.category, []).append(cell)
        return found

    @property
    def words(self) -> str:
        """Such as: 12 cells have blanks; 3 of them must be filled before it can be signed."""
        count, block = len(self.cells), sum(bool(cell.parts) for cell in self.cells)
        if not count:
            return "No blanks."
        cells = "1 cell" if count == 1 else f"{count} cells"
        if not block:
            return f"{cells} without a reason or source."
        if block == count:
            left = "has a blank" if count == 1 else "have blanks"
            return f"{cells} {left} that must be filled before it can be signed."
        return f"{cells} have blanks; {block} of them must be filled before it can be signed."
