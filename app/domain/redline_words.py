"""A change told as what it means for a patient, before any number."""

from app.domain.ages import BIRTH, AgeSpan
from app.domain.alarm_conditions import AlarmCondition
from app.domain.comparison import Direction
from app.domain.redline_parts import (
    DEEP,
    DELAY,
    LATITUDE,
    LIMIT,
    OFF_BY,
    PRIORITY,
    Part,
    state_words,
)
from app.domain.settings_of_alarms import On, Setting, show_number
from app.domain.silence import Silence
from app.domain.written_limits import shown_unit


def at_ages(ages: AgeSpan) -> str:
    return "Every age" if ages.start == BIRTH and ages.end is None else str(ages)


def means(
    alarm: AlarmCondition, was: Setting | None, now: Setting | None, parts: tuple[Part, ...]
) -> str:
    """A sentence without the ages; the gravest part speaks."""
    if isinstance(was, On) and not isinstance(now, On):
        return f"{alarm.label} no longer sounds."
    if isinstance(now, On) and not isinstance(was, On):
        return f"{alarm.label} begins to sound{_at(alarm, now)}."
    if not parts:
        return f"{alarm.label} stays as it is; only its words or its unit change."
    if not isinstance(was, On) or not isinstance(now, On):
        return _without_sound(alarm, was, now, parts[0])
    return _of_part(alarm, was, now, parts[0])


def _without_sound(
    alarm: AlarmCondition, was: Setting | None, now: Setting | None, part: Part
) -> str:
    if part.name in (LATITUDE, OFF_BY):
        return _room(alarm, part)
    return f"{alarm.label} stays without a sound: {state_words(now)} instead of {state_words(was)}."


def _at(alarm: AlarmCondition, setting: On) -> str:
    if setting.limit is None:
        return ""
    word = {"low": "below", "high": "above"}[alarm.side] if alarm.vital_sign else "after"
    unit = shown_unit(setting.unit) if setting.unit else alarm.shown
    return f" {word} {show_number(setting.limit)} {unit}"


def _of_part(alarm: AlarmCondition, was: On, now: On, part: Part) -> str:
    if part.name == LIMIT and not part.of:
        return _moved(alarm, was, now, part)
    if part.name in (DEEP, LIMIT):
        return _deep(alarm, part)
    if part.name in (LATITUDE, OFF_BY):
        return _room(alarm, part)
    of = f", {part.of}," if part.of else ""
    return f"{alarm.label}{of} {_doing(part)}."


def _doing(part: Part) -> str:
    if part.name == PRIORITY:
        return f"calls with {part.after} priority instead of {part.before}"
    if part.name == DELAY:
        return f"waits {part.after} instead of {part.before} before it sounds"
    if part.after == "yes":
        return "stays until somebody answers it"
    return "ends by itself, answered or not"


def _moved(alarm: AlarmCondition, was: On, now: On, part: Part) -> str:
    name = alarm.vital_sign.label if alarm.vital_sign else alarm.label
    first, then = _numbers(alarm, was, now)
    if "blank" in (first, then):
        return f"{alarm.label}: its limit is {then} instead of {first}."
    if alarm.vital_sign is None:
        return f"{name} sounds after {then} instead of {first}."
    if part.lean is Direction.LOOSER:
        verb = "fall" if alarm.side == "low" else "rise"
        return f"{name} can {verb} from {first} to {then} unannounced."
    return f"{name} sounds already at {then} instead of {first}."


def _numbers(alarm: AlarmCondition, was: On, now: On) -> tuple[str, str]:
    """As written; the unit with the new one alone, unless the two differ."""
    units = [one.unit or alarm.unit for one in (was, now)]
    first, then = ("blank" if one.limit is None else show_number(one.limit) for one in (was, now))
    if units[0] != units[1] and first != "blank":
        first = f"{first} {shown_unit(units[0] or '')}"
    return first, then if then == "blank" else f"{then} {shown_unit(units[1] or '')}".strip()


def _deep(alarm: AlarmCondition, part: Part) -> str:
    if part.after == "none":
        return f"{alarm.label} has no second, further line at {part.before} any more."
    if part.before == "none":
        return f"{alarm.label} gains a second, further line at {part.after}."
    return (
        f"{alarm.label}: its second, further line sounds at {part.after} instead of {part.before}."
    )


def _room(alarm: AlarmCondition, part: Part) -> str:
    if part.name == OFF_BY:
        return f"{alarm.label} may be switched off by {part.after} instead of {part.before}."
    if part.after == "none":
        return f"{alarm.label} may no longer be moved for one patient; before: {part.before}."
    if part.before == "none":
        return f"{alarm.label} may be moved for one patient, {part.after}."
    return f"{alarm.label} may be moved for one patient, {part.after} instead of {part.before}."


def gap_words(silence: Silence, alarm: AlarmCondition) -> str:
    """181 to 185 /min at 1 y to 5 y: above 180 /min is danger"""
    where = f"at {str(silence.ages).lower()}"
    return f"{silent_values(silence, alarm.shown)} {where}: {_edge(silence, alarm.shown)}"


def gap_words_at_age(silence: Silence, unit: str) -> str:
    """silent at 181 to 185 /min: above 180 /min is danger"""
    return f"silent at {silent_values(silence, unit)}: {_edge(silence, unit)}"


def _edge(silence: Silence, unit: str) -> str:
    beyond = "below" if silence.side == "low" else "above"
    return f"{beyond} {silence.bound.shown_in(unit)} is {silence.bound.grade}"


def silent_values(silence: Silence, unit: str) -> str:
    if silence.start is None or silence.end is None:
        return "any value"
    ends = [f"{float(end):g}" for end in (silence.start, silence.end)]
    span = ends[0] if ends[0] == ends[1] else " to ".join(ends)
    return f"{span} {unit}".strip()
