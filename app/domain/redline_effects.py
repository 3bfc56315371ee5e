"""What the changes of one vital sign do at each age: silent gap and alarm on arrival, before and
after. Circumstances are left out: an age alone says nothing of them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from app.domain.age_strip import Strip, StripLine, strip
from app.domain.ages import BIRTH, Age, AgeSpan, days
from app.domain.alarm_conditions import Side, limits_of
from app.domain.centiles import CentileRow, CentileTable, References
from app.domain.corridor_walls import in_order
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.redline import Redline
from app.domain.redline_ages import View, stated_by
from app.domain.redline_silence import joined
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.arrival import limits_on, share_outside
from app.domain.rules.rule import Question
from app.domain.silence import SPO2_AVERAGING, Silence, silences
from app.domain.vital_signs import VITAL_SIGNS, VitalSign, group_of, judged_as

MOST_AGES = 6
EVERY_AGE = AgeSpan(BIRTH, None)


@dataclass(frozen=True)
class Share:
    """Of healthy people (0 to 1) beyond the limits, at ages at which it stays the same."""

    ages: AgeSpan
    share: float


@dataclass(frozen=True)
class Arrival:
    """Mean over the days of the ages that change and have published centiles, and the worst."""

    mean: float
    worst: float
    worst_age: Age


@dataclass(frozen=True)
class Held:
    """One policy's side. `silent` over every age, `arrival` over those that change."""

    profile: Profile
    silent: tuple[Silence, ...]
    shares: tuple[Share, ...]
    arrival: Arrival | None

    def silent_at(self, age: Age) -> tuple[Silence, ...]:
        """Danger before caution."""
        return tuple(silence for silence in self.silent if age in silence.ages)


@dataclass(frozen=True)
class TellingAge:
    """None: that policy says nothing of this vital sign at this age."""

    age: Age
    before: StripLine | None
    after: StripLine | None


@dataclass(frozen=True)
class VitalEffect:
    """`vitals`: more than one where two sensors of the same danger change alike."""

    vitals: tuple[VitalSign, ...]
    ages: tuple[AgeSpan, ...]
    before: Held
    after: Held
    telling: tuple[TellingAge, ...]
    source: str | None

    @property
    def vital(self) -> VitalSign:
        return self.vitals[0]


def effects(
    before: Profile,
    after: Profile,
    found: Redline,
    *,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> tuple[VitalEffect, ...]:
    """In the order of the vital signs; none where only words changed."""
    asked = _Asked(before, after, references, bounds, stated_by(before, after))
    told: list[VitalEffect] = []
    for key, ages in _changed_ages(found).items():
        effect = _effect(asked, VITAL_SIGNS[key], tuple(ages))
        twin = next((one for one in told if _alike(one, effect)), None)
        if twin is None:
            told.append(effect)
        else:
            told[told.index(twin)] = replace(twin, vitals=(*twin.vitals, effect.vital))
    return tuple(told)


def _alike(one: VitalEffect, other: VitalEffect) -> bool:
    """Two sensors in one group with the same limits, silence and share at every age."""
    if judged_as(one.vital.key) != judged_as(other.vital.key) or one.ages != other.ages:
        return False
    return all(
        mine.silent == its.silent and mine.shares == its.shares and _same_walls(mine, one, other)
        for mine, its in ((one.before, other.before), (one.after, other.after))
    )


def _same_walls(held: Held, one: VitalEffect, other: VitalEffect) -> bool:
    pairs = list(zip(limits_of(one.vital.key), limits_of(other.vital.key), strict=True))
    profile = held.profile
    for category in profile.categories:
        settings = profile.of_category(category.key)
        limits = [
            [getattr(settings.get(alarm.key), "limit", None) for alarm in pair] for pair in pairs
        ]
        if any(mine != its for mine, its in limits):
            return False
    return True


def _changed_ages(found: Redline) -> dict[str, list[AgeSpan]]:
    changed: dict[str, list[AgeSpan]] = {}
    for change in found.changes:
        if change.words_only or change.circumstance:
            continue
        if change.alarm and change.alarm.vital_sign and change.ages:
            changed.setdefault(change.alarm.vital_sign.key, []).append(change.ages)
        elif change.option == SPO2_AVERAGING:
            changed.setdefault("spo2", []).append(EVERY_AGE)
    return {key: _united(changed[key]) for key in VITAL_SIGNS if key in changed}


def _united(spans: Iterable[AgeSpan]) -> list[AgeSpan]:
    found: list[AgeSpan] = []
    for span in sorted(spans, key=lambda one: (one.start, one.stop)):
        if found and span.start <= found[-1].stop:
            longer = span if span.stop > found[-1].stop else found[-1]
            found[-1] = AgeSpan(found[-1].start, longer.end)
        else:
            found.append(span)
    return found


@dataclass(frozen=True)
class _Asked:
    before: Profile
    after: Profile
    references: References
    bounds: OuterBounds
    stated: frozenset[str]
    strips: dict[tuple[int, Age], Strip] = field(default_factory=dict)

    def strip(self, profile: Profile, age: Age) -> Strip:
        """Kept: many vital signs change at the same ages."""
        place = (id(profile), age)
        if place not in self.strips:
            self.strips[place] = strip(profile, age, references=self.references, bounds=self.bounds)
        return self.strips[place]


def _effect(asked: _Asked, vital: VitalSign, ages: tuple[AgeSpan, ...]) -> VitalEffect:
    table = asked.references.table_for(vital.key)
    was, now = (_held(asked, profile, vital, ages) for profile in (asked.before, asked.after))
    telling = tuple(_telling(asked, vital, _ages_to_tell(ages, (was, now))))
    return VitalEffect((vital,), ages, was, now, telling, table.source if table else None)


def _held(asked: _Asked, profile: Profile, vital: VitalSign, ages: tuple[AgeSpan, ...]) -> Held:
    shares = tuple(_shares(asked, profile, vital))
    silent = joined(_silences(View(profile, stated=asked.stated), vital, asked.bounds))
    return Held(profile, silent, shares, _arrival(shares, ages))


def _silences(view: View, vital: VitalSign, bounds: OuterBounds) -> Iterator[Silence]:
    group = group_of(vital.key)
    mine = {alarm.key for alarm in limits_of(vital.key)}
    sides: tuple[Side, Side] = ("low", "high")
    for side in sides:
        for category in in_order(view.profile):
            for silence in silences(view.watch(category, bounds), group, side, category.span):
                judged = silence.bound.quantity == judged_as(vital.key)
                if judged and not mine.isdisjoint(silence.alarms):
                    yield replace(silence, alarms=())


def _shares(asked: _Asked, profile: Profile, vital: VitalSign) -> Iterator[Share]:
    table = asked.references.table_for(vital.key)
    if table is None:
        return
    name = asked.references.named_in(table, vital.key)
    for category in in_order(profile):
        settings = profile.of_category(category.key)
        question = Question(profile, category, settings, asked.references, asked.bounds)
        limits = limits_on(question, vital.key)
        for span, row in _rows(table, name):
            shared = span.meet(category.span)
            if shared is not None:
                yield Share(shared, share_outside(row, *limits))


def _rows(table: CentileTable, name: str) -> Iterator[tuple[AgeSpan, CentileRow]]:
    """As printed; the row of birth itself holds for the first day."""
    birth, first_day = table.at_birth.get(name), AgeSpan(BIRTH, days(1))
    if birth is not None:
        yield first_day, birth
    for row in table.of(name):
        later = row.span if birth is None else row.span.meet(AgeSpan(days(1), None))
        if later is not None:
            yield later, row


def _arrival(shares: Iterable[Share], ages: Iterable[AgeSpan]) -> Arrival | None:
    asked = list(ages)
    parts = [
        (share.share, known.whole_days(), known.start)
        for share in shares
        for span in asked
        if (known := share.ages.meet(span)) is not None and known.whole_days()
    ]
    if not parts:
        return None
    mean = sum(share * count for share, count, _ in parts) / sum(count for _, count, _ in parts)
    worst, _, age = max(parts, key=lambda part: part[0])
    return Arrival(mean, worst, age)


def _ages_to_tell(ages: tuple[AgeSpan, ...], held: Iterable[Held]) -> list[Age]:
    """Where a change begins, where the silence is deepest, where arrival is worst."""
    found = []
    for one in held:
        inside = [gap for gap in one.silent if any(gap.ages.start in span for span in ages)]
        if inside:
            found.append(max(inside, key=lambda gap: gap.width).ages.start)
        if one.arrival is not None:
            found.append(one.arrival.worst_age)
    found += [span.start for span in ages]
    return sorted(list(dict.fromkeys(found))[:MOST_AGES])


def _telling(asked: _Asked, vital: VitalSign, ages: Iterable[Age]) -> Iterator[TellingAge]:
    for age in ages:
        lines = [_line(asked, profile, vital, age) for profile in (asked.before, asked.after)]
        yield TellingAge(age, *lines)


def _line(asked: _Asked, profile: Profile, vital: VitalSign, age: Age) -> StripLine | None:
    found = asked.strip(profile, age)
    return next((line for line in found.lines if line.vital.key == vital.key), None)
