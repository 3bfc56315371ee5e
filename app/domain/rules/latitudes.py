"""How far a crew may go for one patient: never past a danger bound."""

from collections.abc import Iterator
from dataclasses import replace

from app.domain.ages import hull
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import On, as_number, show_number
from app.domain.silence import Silence, Watch, side_of, silences


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        if not isinstance(setting, On) or setting.latitude is None or not question.asks_about(key):
            continue
        alarm = ALARM_CONDITIONS[key]
        looser = setting.latitude.start if alarm.looser == "down" else setting.latitude.end
        if looser is None:
            continue
        loosest = replace(
            question.watch,
            settings={**question.settings, key: replace(setting, limit=looser, deep=None)},
        )
        now, then = (_dangers(question, key, watch) for watch in (question.watch, loosest))
        if then and not now:
            yield rule.finding(
                question,
                (key,),
                f"a crew may loosen {alarm.label} to {show_number(looser)} {alarm.shown}, "
                f"past {then[0].bound}, which is danger.",
                ages=hull([silence.ages for silence in then]),
                measured={"looser_end": as_number(looser)},
                source="; ".join(dict.fromkeys(silence.bound.source for silence in then)),
            )


def _dangers(question: Question, key: str, watch: Watch) -> list[Silence]:
    group, side = side_of(ALARM_CONDITIONS[key])
    found = silences(watch, group, side, question.category.span)
    return [silence for silence in found if silence.bound.grade == "danger"]


LATITUDE_BREACH = Rule(
    "latitude-breach",
    "The looser end of what a crew may change lies past a danger bound.",
    Severity.UNSAFE,
    "the outer bounds, each with its own source",
    ask=_ask,
)
