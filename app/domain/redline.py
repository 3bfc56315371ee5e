"""What changes between two revisions, told as what it means before any number."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.comparison import Direction, direction_of
from app.domain.device_reports import FoundOff, FoundOn, Reading
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import NotFitted, Off, On, Setting, show_number
from app.domain.written_limits import shown_unit


class Shift(StrEnum):
    """The two words of the corridor, and all that is neither."""

    LOOSER = "looser"
    TIGHTER = "tighter"
    OTHER = "other"


@dataclass(frozen=True)
class Change:
    """`before` or `after` None: nothing is said there, or the category does not exist."""

    category: PatientCategory
    alarm: AlarmCondition
    before: Setting | None
    after: Setting | None
    shift: Shift
    sentence: str


@dataclass(frozen=True)
class BandChange:
    """A category that is new, gone, renamed or holds for other ages."""

    label: str
    before: PatientCategory | None
    after: PatientCategory | None


@dataclass(frozen=True)
class Redline:
    bands: tuple[BandChange, ...]
    changes: tuple[Change, ...]

    @property
    def empty(self) -> bool:
        return not self.bands and not self.changes


def redline(before: Profile, after: Profile) -> Redline:
    """Looser first, then tighter, then the rest; each in the order of the policy."""
    order = list(Shift)
    changes = sorted(_changes(before, after), key=lambda change: order.index(change.shift))
    return Redline(tuple(_band_changes(before, after)), tuple(changes))


def _band_changes(before: Profile, after: Profile) -> Iterator[BandChange]:
    keys = dict.fromkeys(category.key for category in (*after.categories, *before.categories))
    for key in keys:
        old, new = before.category(key), after.category(key)
        known = new or old
        if old != new and known is not None:
            yield BandChange(known.label, old, new)


def _changes(before: Profile, after: Profile) -> Iterator[Change]:
    for category in after.categories:
        old = before.of_category(category.key)
        new = after.of_category(category.key)
        for alarm in ALARM_CONDITIONS.values():
            was, now = old.get(alarm.key), new.get(alarm.key)
            if was != now:
                shift = _shift(category, alarm, was, now)
                sentence = f"{category.label}: {_sentence(alarm, was, now, shift)}"
                yield Change(category, alarm, was, now, shift, sentence)


def _shift(
    category: PatientCategory, alarm: AlarmCondition, was: Setting | None, now: Setting | None
) -> Shift:
    if isinstance(was, On) != isinstance(now, On):
        return Shift.TIGHTER if isinstance(now, On) else Shift.LOOSER
    if not isinstance(was, On) or not isinstance(now, On):
        return Shift.OTHER
    key = category.key
    preset = RenderedPreset(key, key, (key,), category.span, {alarm.key: was})
    found = {alarm.key: _as_reading(now), f"{alarm.key}.deep": _deep_as_reading(now)}
    seen = [direction_of(preset, name, reading) for name, reading in found.items()]
    if Direction.LOOSER in seen or Direction.SWITCHED_OFF in seen:
        return Shift.LOOSER
    tighter = Direction.TIGHTER in seen or Direction.SWITCHED_ON in seen
    return Shift.TIGHTER if tighter else Shift.OTHER


def _as_reading(setting: On) -> Reading:
    return FoundOn(setting.limit, setting.unit, setting.priority, setting.delay_s, setting.latching)


def _deep_as_reading(setting: On) -> Reading:
    deep = setting.deep
    if deep is None:
        return FoundOff()
    return FoundOn(deep.limit, deep.unit or setting.unit, deep.priority, deep.delay_s)


def _sentence(alarm: AlarmCondition, was: Setting | None, now: Setting | None, shift: Shift) -> str:
    name = alarm.vital_sign.label if alarm.vital_sign else alarm.label
    if isinstance(was, On) and not isinstance(now, On):
        return f"{alarm.label} no longer sounds."
    if isinstance(now, On) and not isinstance(was, On):
        return f"{alarm.label} begins to sound{_at(alarm, now)}."
    if isinstance(was, On) and isinstance(now, On):
        moved = _moved(alarm, name, was, now)
        return moved or f"{alarm.label} is {_parts_word(shift)}: its limit stays."
    return f"{alarm.label} stays without a sound."


def _parts_word(shift: Shift) -> str:
    words = {Shift.LOOSER: "looser", Shift.TIGHTER: "tighter", Shift.OTHER: "written otherwise"}
    return words[shift]


def _at(alarm: AlarmCondition, setting: On) -> str:
    if setting.limit is None:
        return ""
    word = {"low": "below", "high": "above"}[alarm.side] if alarm.vital_sign else "after"
    unit = shown_unit(setting.unit) if setting.unit else alarm.shown
    return f" {word} {show_number(setting.limit)} {unit}"


def _moved(alarm: AlarmCondition, name: str, was: On, now: On) -> str | None:
    """None where the limit did not move."""
    old, new = was.limit_in(alarm.unit), now.limit_in(alarm.unit)
    if old is None or new is None or old == new:
        return None
    first, then = show_number(round(old, 1)), show_number(round(new, 1))
    looser = new < old if alarm.looser == "down" else new > old
    if alarm.vital_sign is None:
        return f"{name} sounds after {then} {alarm.shown} instead of {first}."
    if looser:
        verb = "fall" if alarm.side == "low" else "rise"
        return f"{name} can {verb} from {first} to {then} {alarm.shown} unannounced."
    return f"{name} sounds already at {then} {alarm.shown} instead of {first}."


def state_words(setting: Setting | None) -> str:
    """One word for a setting that is not on."""
    if setting is None:
        return "blank"
    if isinstance(setting, Off):
        return "off"
    return "not fitted" if isinstance(setting, NotFitted) else setting.state.replace("-", " ")
