"""How far a crew may go for one patient: never past a danger bound."""

from collections.abc import Iterator
from dataclasses import replace

from app.domain.ages import hull
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import On, as_number, lines_of, show_number
from app.domain.silence import Silence, side_of, silences


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        if not isinstance(setting, On) or not question.asks_about(key):
            continue
        loosest = _loosest(key, setting)
        crossed = _dangers(question, key, loosest) if loosest else []
        if loosest and crossed and not _dangers(question, key, replace(setting, deep=None)):
            yield _breach(rule, question, key, loosest, crossed)


def _loosest(key: str, setting: On) -> On | None:
    """The setting with its limit at the looser end of the latitude."""
    if setting.latitude is None:
        return None
    ends = (setting.latitude.start, setting.latitude.end)
    looser = ends[0] if ALARM_CONDITIONS[key].looser == "down" else ends[1]
    return None if looser is None else replace(setting, limit=looser, deep=None)


def _dangers(question: Question, key: str, setting: On) -> list[Silence]:
    """What the alarm by itself lets pass: its sister may be without its sensor, and a crew that
    loosens one may loosen both."""
    group, side = side_of(ALARM_CONDITIONS[key])
    alone = replace(question.watch, settings={key: setting})
    found = silences(alone, group, side, question.category.span)
    return [silence for silence in found if silence.bound.grade == "danger"]


def _breach(
    rule: Rule, question: Question, key: str, loosest: On, crossed: list[Silence]
) -> Finding:
    alarm = ALARM_CONDITIONS[key]
    (limit, _), *_ = lines_of(loosest, alarm)
    ages = hull([silence.ages for silence in crossed])
    worst = max(crossed, key=lambda silence: silence.width)
    return rule.finding(
        question,
        (key,),
        f"a crew may loosen {alarm.label} to {show_number(limit)} {alarm.shown} at age {ages}; "
        f"{'below' if worst.side == 'low' else 'above'} {worst.bound.shown_in(alarm.shown)} "
        "is danger.",
        ages=ages,
        measured={
            "looser_end": as_number(limit),
            "bounds": [silence.bound.shown_in(alarm.shown) for silence in crossed],
        },
        source="; ".join(dict.fromkeys(silence.bound.source for silence in crossed)),
    )


LATITUDE_BREACH = Rule(
    "latitude-breach",
    "The looser end of what a crew may change lies past a danger bound.",
    Severity.UNSAFE,
    "the outer bounds, each with its own source",
    ask=_ask,
)
