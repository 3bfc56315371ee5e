"""Values beyond an outer bound that would sound no alarm."""

from collections.abc import Iterator
from fractions import Fraction

from app.domain.ages import AgeSpan, hull
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, Side
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import as_number
from app.domain.silence import LONGEST_COVERING_DELAY_S, Silence, alarm_of, sides, silences


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    watch = question.watch
    for group, side in sides():
        if not _may_change(question, group, side):
            continue
        found = silences(watch, group, side, question.category.span)
        found = [silence for silence in found if _is_asked(question, silence)]
        if found:
            yield _finding(rule, question, found)


def _may_change(question: Question, group: tuple[str, ...], side: Side) -> bool:
    """Whether a circumstance, if there is one, has a say in what this side guards."""
    if question.circumstance is None:
        return True
    return question.asks_about(*(alarm_of(quantity, side).key for quantity in group)) or any(
        bound.when == question.circumstance
        for quantity in group
        for bound in question.bounds.of(quantity, side)
    )


def _is_asked(question: Question, silence: Silence) -> bool:
    """Under a circumstance also where its own bound meets an alarm that it leaves as it is."""
    return silence.bound.when is not None or question.asks_about(*silence.alarms)


def _finding(rule: Rule, question: Question, found: list[Silence]) -> Finding:
    grade = "danger" if any(silence.bound.grade == "danger" for silence in found) else "caution"
    graded = [silence for silence in found if silence.bound.grade == grade]
    worst = max(graded, key=lambda silence: silence.width)
    alarms = tuple(dict.fromkeys(alarm for silence in graded for alarm in silence.alarms))
    return rule.finding(
        question,
        alarms,
        _sentence(question, worst, _ages_alike(worst, graded)),
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
        "silent_values": [[_number(silence.start), _number(silence.end)] for silence in graded],
    }


def _ages_alike(worst: Silence, graded: list[Silence]) -> AgeSpan:
    reach = (worst.start, worst.end)
    return hull([silence.ages for silence in graded if (silence.start, silence.end) == reach])


def _sentence(question: Question, worst: Silence, ages: AgeSpan) -> str:
    alarm = ALARM_CONDITIONS[worst.alarms[0]]
    name = alarm.vital_sign.label if alarm.vital_sign else alarm.label
    moves = ("fall", "below") if worst.side == "low" else ("rise", "above")
    if alarm.vital_sign is None:
        moves = ("last", "beyond")
    return (
        f"{name} can {moves[0]} {_reach(question, worst, alarm)} unannounced at age {ages}; "
        f"{moves[1]} {worst.bound.shown_in(alarm.shown)} is {worst.bound.grade}."
    )


def _reach(question: Question, worst: Silence, alarm: AlarmCondition) -> str:
    far = worst.start if worst.side == "low" else worst.end
    if far is not None:
        return f"to {_show(far)} {alarm.shown}"
    late = any(question.on(key) for key in worst.alarms)
    return f"to any value for more than {LONGEST_COVERING_DELAY_S} s" if late else "to any value"


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
