"""Band advice: for a vital sign and up to so many bands, the age edges and limits at which alarm
on arrival and silent gap together cost least, beside what a policy says today.

At every monthly age a pair of limits costs: the share of healthy people who alarm on arrival, in
points of a hundred, plus for every unit of silence beyond a danger bound and beyond a caution
bound a number of points that the asker chooses. The alarm is weighed by itself, as if no other
sensor guarded the same danger. Advice is a proposal, never a policy.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from app.domain.ages import Age, AgeSpan, months
from app.domain.alarm_conditions import SIDES, Side, limits_of
from app.domain.band_costs import (
    Costs,
    Ground,
    SideCosts,
    Weights,
    ground_of,
    is_judged,
    month,
    side_costs,
)
from app.domain.band_search import Aim, FoundBand, Sides, best_bands
from app.domain.band_today import costs_today, held_limits, sets_a_limit
from app.domain.centiles import References
from app.domain.device_models import DeviceModel
from app.domain.errors import Conflict, Fault, Refused
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import prove_scheme
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.settable_limits import SettableLimits, settable_limits
from app.domain.settings_of_alarms import show_number
from app.domain.vital_signs import VITAL_SIGNS, VitalSign

MOST_BANDS = 8
GROWN = 18 * 12  # months: up to here centiles of children are asked
HEAVIEST = 1000.0


@dataclass(frozen=True)
class BandQuestion:
    """`until` in months; `most` is the largest number of bands that is tried."""

    vital_sign: str
    aim: Aim = Aim.WORST
    weights: Weights = field(default_factory=Weights)
    until: int = GROWN
    most: int = MOST_BANDS


@dataclass(frozen=True)
class Band:
    """None: no such limit, or a side on which nothing is advised."""

    ages: AgeSpan
    low: Decimal | None
    high: Decimal | None

    @property
    def mark(self) -> str:
        """Says all of it, so that nobody confirms a band which is no longer advised."""
        low, high = ("" if one is None else show_number(one) for one in (self.low, self.high))
        return f"{self.ages.start.months}-{self.ages.stop.months}:{low}:{high}"


@dataclass(frozen=True)
class Score:
    """Points over the months; shares 0 to 1; gaps in units of the vital sign, both sides added."""

    worst: float
    worst_age: Age
    mean: float
    arrival_worst: float
    arrival_mean: float
    danger: float
    caution: float

    def by(self, aim: Aim) -> float:
        return self.worst if aim is Aim.WORST else self.mean


@dataclass(frozen=True)
class Plan:
    bands: tuple[Band, ...]
    score: Score


@dataclass(frozen=True)
class BandAdvice:
    """`best` for at most 1, 2 … bands. `today` None: no policy sets a limit for it.

    `left` are the sides on which nothing is advised, because no outer bound judges them at every
    age.
    """

    question: BandQuestion
    vital: VitalSign
    ages: AgeSpan
    best: tuple[Plan, ...]
    today: Plan | None
    left: tuple[Side, ...]
    settable: tuple[SettableLimits, ...]
    source: str
    bounds: str

    def with_bands(self, count: int) -> Plan:
        return self.best[count - 1]

    @property
    def models(self) -> tuple[str, ...]:
        return tuple(sorted({key for one in self.settable for key in one.models}))


def band_advice(
    question: BandQuestion,
    *,
    bounds: OuterBounds,
    references: References = PUBLISHED,
    models: Iterable[DeviceModel] = (),
    profile: Profile | None = None,
) -> BandAdvice:
    """Raises Refused in words where there is nothing to weigh, or nothing that can be set."""
    if profile is not None and prove_scheme(profile.categories):
        raise Refused.because("the scheme leaves ages out or holds some twice: mend it first")
    ground = _ground(question, references, bounds)
    ages = _ages(ground, question.until)
    advised = tuple(side for side in SIDES if is_judged(ground, side, ages))
    if not advised:
        raise _because(
            f"no outer bound judges {ground.vital.label} at every age: nothing says when its "
            "silence is dangerous, and without that the loosest limit always wins"
        )
    settable = _settable(ground, advised, tuple(models))
    costs = tuple(_side(ground, side, ages, settable) for side in SIDES)
    found = best_bands(_sides(costs, question.weights), question.aim, question.most)
    if not found:
        raise _because("no low limit that can be set lies below a high limit that can be set")
    return BandAdvice(
        question=question,
        vital=ground.vital,
        ages=AgeSpan(months(ages.start), months(ages.stop)),
        best=tuple(_plan(bands, costs, question.weights, ages) for bands in found),
        today=None if profile is None else _today(ground, profile, question, ages, advised),
        left=tuple(side for side in SIDES if side not in advised),
        settable=tuple(settable.values()),
        source=ground.table.source,
        bounds=bounds.name,
    )


def whole_months(age: Age) -> int:
    """As `until` is asked for."""
    if age.months.denominator != 1 or not 1 <= age.months <= GROWN:
        raise Refused.because(
            "give whole months or years, from 1 mo to 18 y", column="until", value=str(age)
        )
    return int(age.months)


def published_signs(references: References = PUBLISHED) -> tuple[VitalSign, ...]:
    return tuple(one for key, one in VITAL_SIGNS.items() if references.table_for(key))


def confirmed_bands(plan: Plan, marks: Iterable[str]) -> tuple[Band, ...]:
    """Raises Conflict where a mark belongs to no band that is advised now."""
    wanted = set(marks)
    if not wanted <= {band.mark for band in plan.bands}:
        raise Conflict("The advice is another one by now: look at it again before you confirm.")
    return tuple(band for band in plan.bands if band.mark in wanted)


def _ground(question: BandQuestion, references: References, bounds: OuterBounds) -> Ground:
    vital = VITAL_SIGNS.get(question.vital_sign)
    if vital is None:
        known = ", ".join(VITAL_SIGNS)
        raise _because(f"must be one of {known}", question.vital_sign)
    for weight in (question.weights.danger, question.weights.caution):
        if not 0 <= weight <= HEAVIEST:
            reason = f"a weight goes from 0 to {HEAVIEST:g} points"
            raise Refused.because(reason, column="weight", value=weight)
    ground = ground_of(vital, references, bounds)
    if ground is None:
        reason = f"no centiles are held for {vital.label}, so nothing tells its noise by age"
        raise _because(reason, question.vital_sign)
    return ground


def _ages(ground: Ground, until: int) -> range:
    """The months whose every part has published centiles, in one piece from the first on."""
    if not 1 <= until <= GROWN:
        raise Refused.because(f"choose 1 to {GROWN} months", column="until", value=until)
    known = [number for number in range(until) if ground.rows(month(number))]
    if not known:
        raise Refused.because(
            "no centiles are published before that age", column="until", value=until
        )
    return range(known[0], next((n for n in known if n + 1 not in known), known[-1]) + 1)


def _settable(
    ground: Ground, advised: Sequence[Side], models: Sequence[DeviceModel]
) -> dict[Side, SettableLimits]:
    found: dict[Side, SettableLimits] = {}
    faults = []
    for side in advised:
        alarm = limits_of(ground.vital.key)[SIDES.index(side)]
        found[side] = settable_limits(alarm, models)
        if not found[side].values:
            names = ", ".join(found[side].models)
            faults.append(Fault(f"{alarm.label}: no value can be set on every model ({names})"))
    if faults:
        raise Refused(faults)
    return found


def _side(
    ground: Ground, side: Side, ages: range, settable: dict[Side, SettableLimits]
) -> SideCosts:
    return side_costs(ground, side, ages, settable[side].values if side in settable else None)


def _sides(costs: Sequence[SideCosts], weights: Weights) -> Sides:
    low, high = costs
    return Sides(low.weighed(weights), high.weighed(weights), _limits(low), _limits(high))


def _limits(side: SideCosts) -> Costs:
    """A side that is left out stands beyond whatever the other may be."""
    beyond = float("-inf") if side.alarm.side == "low" else float("inf")
    return np.array([beyond if limit is None else float(limit) for limit in side.limits])


def _plan(
    bands: Sequence[FoundBand], costs: Sequence[SideCosts], weights: Weights, ages: range
) -> Plan:
    low, high = costs
    lows = np.concatenate([np.full(band.end - band.start, band.low) for band in bands])
    highs = np.concatenate([np.full(band.end - band.start, band.high) for band in bands])
    rows = np.arange(len(ages))
    parts = [
        getattr(low, part)[rows, lows] + getattr(high, part)[rows, highs]
        for part in ("arrival", "danger", "caution")
    ]
    told = tuple(
        Band(
            AgeSpan(months(ages[band.start]), months(ages.start + band.end)),
            low.limits[band.low],
            high.limits[band.high],
        )
        for band in bands
    )
    return Plan(told, _score(*parts, weights=weights, ages=ages))


def _score(
    arrival: Costs, danger: Costs, caution: Costs, *, weights: Weights, ages: range
) -> Score:
    cost = arrival + weights.danger * danger + weights.caution * caution
    worst = int(np.argmax(cost))
    return Score(
        worst=float(cost[worst]),
        worst_age=months(ages[worst]),
        mean=float(cost.mean()),
        arrival_worst=float(arrival.max()) / 100,
        arrival_mean=float(arrival.mean()) / 100,
        danger=float(danger.max()),
        caution=float(caution.max()),
    )


def _today(
    ground: Ground, profile: Profile, question: BandQuestion, ages: range, sides: tuple[Side, ...]
) -> Plan | None:
    if not sets_a_limit(ground, profile):
        return None
    each = costs_today(ground, profile, ages, sides)
    arrival, danger, caution = (
        np.array([getattr(one, part) for one in each]) for part in ("arrival", "danger", "caution")
    )
    span = AgeSpan(months(ages.start), months(ages.stop))
    held = held_limits(ground, profile, span)
    bands = tuple(Band(one.ages, one.low, one.high) for one in held)
    return Plan(bands, _score(arrival, danger, caution, weights=question.weights, ages=ages))


def _because(reason: str, value: object = None) -> Refused:
    return Refused.because(reason, column="vital_sign", value=value)
