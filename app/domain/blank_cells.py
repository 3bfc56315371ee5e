"""What a policy leaves blank, cell by cell and part by part."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile, Settings
from app.domain.rules.explained import is_explained
from app.domain.rules.statements import blanks_of
from app.domain.settings_of_alarms import On, Setting

WHOLE = ("setting",)
"""Nothing is said of the alarm at all."""


@dataclass(frozen=True)
class BlankCell:
    """`parts` keep the draft from being signed; `unexplained`, a reason or source, do not."""

    category: PatientCategory
    alarm: AlarmCondition
    parts: tuple[str, ...]
    unexplained: tuple[str, ...]

    @property
    def whole(self) -> bool:
        return self.parts == WHOLE

    @property
    def left_blank(self) -> tuple[str, ...]:
        return (*self.parts, *self.unexplained)


def unexplained(setting: Setting | None) -> tuple[str, ...]:
    """On needs a reason and a source, off a reason."""
    if setting is None or is_explained(setting):
        return ()
    wanted = ("reason", "source") if isinstance(setting, On) else ("reason",)
    return tuple(part for part in wanted if not getattr(setting, part).strip())


def blank_cells(profile: Profile) -> tuple[BlankCell, ...]:
    """Category by category, each in the order of the grid."""
    return tuple(
        cell
        for category in profile.categories
        for cell in _of(category, profile.of_category(category.key))
    )


def _of(category: PatientCategory, settings: Settings) -> Iterator[BlankCell]:
    parts = blanks_of(settings)
    for key, alarm in ALARM_CONDITIONS.items():
        cell = BlankCell(category, alarm, parts.get(key, ()), unexplained(settings.get(key)))
        if cell.left_blank:
            yield cell
