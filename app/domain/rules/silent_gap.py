"""Values beyond an outer bound that would sound no alarm."""

from collections.abc import Iterator
from fractions import Fraction

from app.domain.ages import AgeSpan, hull
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import as_number
from app.domain.silence import Silence, sides, silences


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    watch = question.watch
    for group, side in sides():
        found = silences(watch, group, side, question.category.span)
        found = [silence for silence in found if question.asks_about(*silence.alarms)]
        if found:
            yield _finding(rule, question, found)


def _finding(rule: Rule, question: Question, found: list[Silence]) -> Finding:
    grade = "danger" if any(silence.bound.grade == "danger" for silence in found) else "caution"
    graded = [silence for silence in found if silence.bound.grade == grade]
    worst = max(graded, key=lambda silence: silence.width)
    alarms = tuple(dict.fromkeys(alarm for silence in graded for alarm in silence.alarms))
    return rule.finding(
        question,
        alarms,
        _sentence(worst, ALARM_CONDITIONS[worst.alarms[0]], _ages_alike(worst, graded)),
        severity=Severity.UNSAFE if grade == "danger" else Severity.NOTE,
        ages=hull([silence.ages for silence in graded]),
        measured=_measured(worst, grade, graded),
        source="; ".join(dict.fromkeys(silence.bound.source for silence in found)),
    )


def _measured(worst: Silence, grade: str, graded: list[Silence]) -> dict[str, object]:
    return {
        "grade": grade,
        "side": worst.side,
        "bound": float(worst.bound.base) if worst.bound.per_year else _number(worst.bound.base),
        "bound_per_year": _number(worst.bound.per_year),
        "limit": None if worst.limit is None else as_number(worst.limit),
        "silent_from": _number(worst.start),
        "silent_to": _number(worst.end),
        "silent_ages": [silence.ages.words() for silence in graded],
    }


def _ages_alike(worst: Silence, graded: list[Silence]) -> AgeSpan:
    reach = (worst.start, worst.end)
    return hull([silence.ages for silence in graded if (silence.start, silence.end) == reach])


def _sentence(worst: Silence, alarm: AlarmCondition, ages: AgeSpan) -> str:
    unit = alarm.shown
    name = alarm.vital_sign.label if alarm.vital_sign else alarm.label
    moves = ("fall", "below") if worst.side == "low" else ("rise", "above")
    if alarm.vital_sign is None:
        moves = ("last", "beyond")
    far = worst.start if worst.side == "low" else worst.end
    reach = "to any value" if far is None else f"to {_show(far)} {unit}"
    edge = f"{worst.bound} {unit}"
    return (
        f"{name} can {moves[0]} {reach} unannounced at age {ages}; "
        f"{moves[1]} {edge} is {worst.bound.grade}."
    )


def _show(value: Fraction) -> str:
    return f"{float(value):g}"


def _number(value: Fraction | None) -> float | int | None:
    if value is None:
        return None
    return int(value) if value.denominator == 1 else float(value)


SILENT_GAP = Rule(
    "silent-gap",
    "Values beyond an outer bound sound no alarm: danger is unsafe, caution a note.",
    Severity.UNSAFE,
    "the outer bounds, each with its own source",
    ask=_ask,
    by_age=True,
)
