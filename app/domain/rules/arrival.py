"""How many healthy people would sound an alarm the moment they are connected."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from app.domain.ages import BIRTH, Age, AgeSpan, days, hull
from app.domain.alarm_conditions import limits_of
from app.domain.centiles import CentileRow, CentileTable, References
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import On
from app.domain.vital_signs import VITAL_SIGNS

NOTE_FROM = 0.10
ROUNDING = 1e-9  # a limit on the printed 10th centile is a tenth, whatever the last bit says


@dataclass(frozen=True)
class ArrivalShare:
    """Shares 0 to 1; `days` of `all_days` have published centiles and make the mean."""

    mean: float
    worst: float
    worst_age: Age
    days: int
    all_days: int
    known: AgeSpan


def share_outside(row: CentileRow, low: float | None, high: float | None) -> float:
    below = 0.0 if low is None else row.curve.share_below(low)
    above = 0.0 if high is None else 1 - row.curve.share_below(high)
    return below + above


@lru_cache(maxsize=4096)
def arrival_share(
    table: CentileTable, vital_sign: str, ages: AgeSpan, low: float | None, high: float | None
) -> ArrivalShare | None:
    """Mean over the whole-day ages of the span that the table knows; None if it knows none."""
    parts = [
        (share_outside(row, low, high), span.whole_days(), span.start)
        for row, span in rows_within(table, vital_sign, ages)
    ]
    known = sum(count for _, count, _ in parts)
    if not known:
        return None
    worst, _, age = max((part for part in parts if part[1]), key=lambda part: part[0])
    mean = sum(share * count for share, count, _ in parts) / known
    spans = hull([span for _, span in rows_within(table, vital_sign, ages)])
    return ArrivalShare(mean, worst, age, known, ages.whole_days(), spans)


def rows_within(
    table: CentileTable, vital_sign: str, ages: AgeSpan
) -> Iterator[tuple[CentileRow, AgeSpan]]:
    birth = table.at_birth.get(vital_sign)
    first_day = AgeSpan(BIRTH, days(1))
    if birth is not None and BIRTH in ages:
        yield birth, first_day
        later = AgeSpan(days(1), ages.end)
    else:
        later = ages
    for row in table.of(vital_sign):
        shared = row.span.meet(later)
        if shared is not None:
            yield row, shared


def limits_on(question: Question, vital_sign: str) -> tuple[float | None, float | None]:
    low, high = (_limit(question.on(alarm.key), alarm.unit) for alarm in limits_of(vital_sign))
    return low, high


def _limit(on: On | None, unit: str | None) -> float | None:
    limit = None if on is None else on.limit_in(unit)
    return None if limit is None else float(limit)


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    for vital_sign in VITAL_SIGNS:
        alarms = tuple(alarm.key for alarm in limits_of(vital_sign) if question.on(alarm.key))
        if alarms and question.asks_about(*alarms):
            yield from _noisy(rule, question, vital_sign, alarms)


def _noisy(
    rule: Rule, question: Question, vital_sign: str, alarms: tuple[str, ...]
) -> Iterator[Finding]:
    table = question.references.table_for(vital_sign)
    if table is None:
        return
    share = share_for(question.references, vital_sign, question)
    if share is None or share.mean < NOTE_FROM - ROUNDING:
        return
    label = VITAL_SIGNS[vital_sign].label
    yield rule.finding(
        question,
        alarms,
        f"{label} would sound on arrival in {share.mean:.0%} of healthy people of "
        f"{_ages_known(share)} (worst {share.worst:.0%} at {share.worst_age}).",
        ages=question.category.span,
        measured={
            "mean_share": share.mean,
            "worst_share": share.worst,
            "worst_age": str(share.worst_age),
            "days": share.days,
            "all_days": share.all_days,
        },
        source=table.source,
    )


def _ages_known(share: ArrivalShare) -> str:
    if share.days == share.all_days:
        return "this age"
    return f"age {share.known}, the only ages here with published centiles"


def share_for(references: References, vital_sign: str, question: Question) -> ArrivalShare | None:
    table = references.table_for(vital_sign)
    if table is None:
        return None
    low, high = limits_on(question, vital_sign)
    name = references.named_in(table, vital_sign)
    return arrival_share(table, name, question.category.span, low, high)


ARRIVAL_ALARM = Rule(
    "arrival-alarm",
    "A tenth or more of healthy people of this age already lie outside the limits.",
    Severity.NOTE,
    "published centiles of healthy people",
    ask=_ask,
    by_age=True,
)
