"""The age corridor as a table: per vital sign and category the limits, the silence, the noise."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.age_strip import limit_words, silence_words
from app.domain.alarm_conditions import SIDES, AlarmCondition, limits_of
from app.domain.centiles import References
from app.domain.corridor import Corridor
from app.domain.corridor_walls import in_order
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.arrival import ArrivalShare, share_for
from app.domain.rules.rule import Question
from app.domain.silence import Watch, side_of, silences
from app.domain.vital_signs import VitalSign, judged_as


@dataclass(frozen=True)
class SilentAges:
    """In words, the ages first; `danger` or else caution."""

    words: str
    danger: bool


@dataclass(frozen=True)
class TableRow:
    """`outside` is the share of healthy people beyond the limits; None: nothing is published."""

    category: PatientCategory
    low: str
    high: str
    silent: tuple[SilentAges, ...]
    outside: ArrivalShare | None


@dataclass(frozen=True)
class LaneTable:
    """`judged`: whether an outer bound says what silence would be."""

    vital: VitalSign
    judged: bool
    rows: tuple[TableRow, ...]


def corridor_table(
    profile: Profile,
    drawn: Corridor,
    *,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> tuple[LaneTable, ...]:
    """A table a lane that is drawn, a row a category, in order of age."""
    questions = [
        Question(profile, category, profile.of_category(category.key), references, bounds)
        for category in in_order(profile)
    ]
    return tuple(
        LaneTable(
            lane.vital,
            _judged(lane.vital, bounds),
            tuple(_row(question, lane.vital) for question in questions),
        )
        for lane in drawn.lanes
    )


def _judged(vital: VitalSign, bounds: OuterBounds) -> bool:
    return any(bounds.of(judged_as(vital.key), side) for side in SIDES)


def _row(question: Question, vital: VitalSign) -> TableRow:
    sides = limits_of(vital.key)
    low, high = (limit_words(alarm, question.settings.get(alarm.key)) for alarm in sides)
    silent = tuple(
        told for alarm in sides for told in _silent(question.watch, alarm, question.category)
    )
    share = share_for(question.references, vital.key, question)
    return TableRow(question.category, low, high, silent, share)


def _silent(watch: Watch, alarm: AlarmCondition, category: PatientCategory) -> Iterator[SilentAges]:
    group, side = side_of(alarm)
    for silence in silences(watch, group, side, category.span):
        if alarm.key in silence.alarms:
            said = silence_words(silence, alarm, silence.ages.start)
            grade = silence.bound.grade
            yield SilentAges(f"{silence.ages}: {said}", danger=grade == "danger")
