"""One age of the corridor in words: which category and why, each limit, the noise, the silence."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from app.domain.age_axis import spoken
from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import AlarmCondition, limits_of
from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.arrival import limits_on, share_outside
from app.domain.rules.rule import Question
from app.domain.settings_of_alarms import NotFitted, Off, On, Setting, show_number
from app.domain.silence import Silence, Watch, side_of, silences
from app.domain.vital_signs import VITAL_SIGNS, VitalSign
from app.domain.written_limits import show_limit

_MOMENT = Age(AgeSpan(Age.parse("0 d"), Age.parse("1 d")).stop.days / 24)  # an hour


@dataclass(frozen=True)
class SideAt:
    """One limit at an age; `silence` says what passes unannounced, "" where nothing does."""

    alarm: AlarmCondition
    setting: Setting | None
    words: str
    silence: str
    danger: bool

    @property
    def movable(self) -> bool:
        return isinstance(self.setting, On) and self.setting.limit is not None


@dataclass(frozen=True)
class StripLine:
    """`outside` is the share (0 to 1) of healthy people beyond the limits; None: not published."""

    vital: VitalSign
    low: SideAt
    high: SideAt
    outside: float | None
    band: str | None

    @property
    def sides(self) -> tuple[SideAt, SideAt]:
        return self.low, self.high

    @property
    def words(self) -> str:
        """alarm below 90 · above 160 /min"""
        said = " · ".join(side.words for side in self.sides if side.movable)
        rest = [f"{side.alarm.side} {side.words}" for side in self.sides if not side.movable]
        limits = [f"alarm {said} {_unit(self)}".strip()] if said else []
        return "; ".join([*limits, *rest])


@dataclass(frozen=True)
class Strip:
    """`category` is None where no category, or more than one, holds the age."""

    age: Age
    category: PatientCategory | None
    how: str
    next_edge: str
    lines: tuple[StripLine, ...]

    @property
    def age_words(self) -> str:
        return spoken(self.age)


def strip(
    profile: Profile,
    age: Age,
    *,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> Strip:
    holding = [category for category in profile.categories if age in category.span]
    if len(holding) != 1:
        return Strip(age, None, _no_category(holding), "", ())
    category = holding[0]
    settings = profile.of_category(category.key)
    question = Question(profile, category, settings, references, bounds)
    lines = (
        _line(question, vital, age)
        for vital in VITAL_SIGNS.values()
        if any(isinstance(settings.get(a.key), On | Off) for a in limits_of(vital.key))
    )
    how = f"{category.label}, by age: {category.span}"
    return Strip(age, category, how, _next_edge(profile, category), tuple(lines))


def _no_category(holding: list[PatientCategory]) -> str:
    if not holding:
        return "No category holds this age, so no limit does."
    names = " and ".join(category.label for category in holding)
    return f"{names} both hold this age: which limits are meant?"


def _next_edge(profile: Profile, category: PatientCategory) -> str:
    end = category.span.end
    following = next((c for c in profile.categories if end is not None and end in c.span), None)
    return "" if following is None or end is None else f"From {end} on: {following.label}."


def _line(question: Question, vital: VitalSign, age: Age) -> StripLine:
    low, high = limits_of(vital.key)
    watch = question.watch
    outside, band = _outside(question, vital, age)
    return StripLine(vital, _side(watch, low, age), _side(watch, high, age), outside, band)


def _outside(question: Question, vital: VitalSign, age: Age) -> tuple[float | None, str | None]:
    table = question.references.table_for(vital.key)
    if table is None:
        return None, None
    row = table.at(question.references.named_in(table, vital.key), age)
    if row is None:
        return None, None
    return share_outside(row, *limits_on(question, vital.key)), row.band


def _side(watch: Watch, alarm: AlarmCondition, age: Age) -> SideAt:
    setting = watch.settings.get(alarm.key)
    silent = next(_silent_at(watch, alarm, age), None)
    return SideAt(
        alarm,
        setting,
        limit_words(alarm, setting),
        "" if silent is None else silence_words(silent, alarm, age),
        danger=silent is not None and silent.bound.grade == "danger",
    )


def _silent_at(watch: Watch, alarm: AlarmCondition, age: Age) -> Iterator[Silence]:
    """The gravest first."""
    group, side = side_of(alarm)
    moment = AgeSpan(age, Age(age.days + _MOMENT.days))
    for silence in silences(watch, group, side, moment):
        if alarm.key in silence.alarms and silence.ages.start == age:
            yield silence


def limit_words(alarm: AlarmCondition, setting: Setting | None) -> str:
    if isinstance(setting, On):
        side = "below" if alarm.side == "low" else "above"
        return f"{side} {show_limit(setting, alarm)}"
    if setting is None:
        return "left blank"
    return "not fitted" if isinstance(setting, NotFitted) else setting.state.replace("-", " ")


def _unit(line: StripLine) -> str:
    """Left out where a limit is written in a unit of its own."""
    own = [side.setting for side in line.sides if isinstance(side.setting, On)]
    return line.vital.shown if all(s.unit in (None, line.vital.unit) for s in own) else ""


def silence_words(silence: Silence, alarm: AlarmCondition, age: Age) -> str:
    edge, grade = silence.bound.at(age), silence.bound.grade
    beyond = "below" if silence.side == "low" else "above"
    reach = f"{beyond} {_number(Decimal(float(edge)))} {alarm.shown} is {grade}"
    if silence.limit is None:
        return f"silent at any value: {reach}"
    ends = sorted([Decimal(float(edge)), silence.limit])
    return f"silent from {_number(ends[0])} to {_number(ends[1])}: {reach}"


def _number(value: Decimal) -> str:
    return show_number(round(value, 1))
