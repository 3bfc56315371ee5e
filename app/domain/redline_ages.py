"""Two policies held against each other age by age: their categories may be cut differently."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from itertools import pairwise

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.profiles import Circumstance, Profile, Settings
from app.domain.redline_parts import Part, bare, parts_of
from app.domain.settings_of_alarms import NoPolicy, On, Setting
from app.domain.silence import SPO2_AVERAGING, Silence, Watch, side_of, silences


@dataclass(frozen=True)
class Piece:
    """Ages at which one category holds before and one after; None: no category does."""

    ages: AgeSpan
    before: PatientCategory | None
    after: PatientCategory | None


def pieces_of(before: Profile, after: Profile) -> list[Piece]:
    """In order of age; together they are every age that either policy reaches."""
    spans = [category.span for profile in (before, after) for category in profile.categories]
    starts = sorted({span.start for span in spans} | {span.end for span in spans if span.end})
    ends: list[Age | None] = [*starts[1:], None]
    found = [
        Piece(
            AgeSpan(start, end),
            category_at(before.categories, start),
            category_at(after.categories, start),
        )
        for start, end in zip(starts, ends, strict=True)
    ]
    return [piece for piece in found if piece.before or piece.after]


@dataclass(frozen=True)
class Hand:
    """Ages that change hands: another category holds them, or none does."""

    ages: AgeSpan
    before: PatientCategory | None
    after: PatientCategory | None


def hands(pieces: Sequence[Piece]) -> tuple[Hand, ...]:
    moved = [piece for piece in pieces if _key(piece.before) != _key(piece.after)]
    found: list[Hand] = []
    for piece in moved:
        last = found[-1] if found else None
        same = last and (last.before, last.after) == (piece.before, piece.after)
        if last and same and last.ages.end == piece.ages.start:
            found[-1] = replace(last, ages=AgeSpan(last.ages.start, piece.ages.end))
        else:
            found.append(Hand(piece.ages, piece.before, piece.after))
    return tuple(found)


def _key(category: PatientCategory | None) -> str | None:
    return None if category is None else category.key


@dataclass(frozen=True)
class View:
    """A policy as it holds plainly, or for those for whom a circumstance was chosen.

    `stated`: alarms of which either policy says something. Where this one leaves one of them
    blank nothing sounds, so silence is judged as without a policy.
    """

    profile: Profile
    circumstance: Circumstance | None = None
    stated: frozenset[str] = frozenset()

    def offers(self, category: PatientCategory | None) -> bool:
        chosen = self.circumstance
        return chosen is not None and category is not None and category.key in chosen.applies_to

    def settings(self, category: PatientCategory | None) -> Settings:
        """Where the circumstance is not offered, what holds without it."""
        return {} if category is None else self._by_category[category.key]

    @cached_property
    def _by_category(self) -> Mapping[str, Settings]:
        return {
            one.key: self.profile.overlaid(one.key, self.circumstance)
            if self.circumstance and self.offers(one)
            else self.profile.of_category(one.key)
            for one in self.profile.categories
        }

    def heard(self, category: PatientCategory | None) -> Settings:
        """With no policy where it is silent by leaving out what the other one states."""
        return {**dict.fromkeys(self.stated, NoPolicy()), **self.settings(category)}

    def silences(
        self, piece: Piece, alarm: AlarmCondition, bounds: OuterBounds, *, after: bool
    ) -> list[Silence]:
        """Of the alarm's whole group; kept, since its members mostly change together."""
        category, (group, side) = piece.after if after else piece.before, side_of(alarm)
        place = piece.ages, group, side
        if place not in self._silences:
            watch = self.watch(category, bounds)
            self._silences[place] = silences(watch, group, side, piece.ages)
        return self._silences[place]

    def watch(self, category: PatientCategory | None, bounds: OuterBounds) -> Watch:
        chosen = self.circumstance.key if self.circumstance and self.offers(category) else None
        averaging = self.profile.number_option(SPO2_AVERAGING) or Decimal(0)
        return Watch(self.heard(category), bounds, chosen, averaging, self._fitted)

    @cached_property
    def _silences(self) -> dict[object, list[Silence]]:
        return {}

    @cached_property
    def _fitted(self) -> frozenset[str]:
        return frozenset(key for model in self.profile.models.values() for key in model.grid)


def stated_by(*profiles: Profile) -> frozenset[str]:
    return frozenset(
        key for profile in profiles for held in profile.settings.values() for key in held
    )


@dataclass(frozen=True)
class AgesChanged:
    """One alarm over ages at which the same change holds. `parts` empty: only words differ.

    `before` or `after` None: nothing is said there. `pieces` are those that were merged.
    """

    alarm: AlarmCondition
    ages: AgeSpan
    before: Setting | None
    after: Setting | None
    parts: tuple[Part, ...]
    pieces: tuple[Piece, ...] = field(repr=False)

    @property
    def words_only(self) -> bool:
        return not self.parts

    @property
    def switched_off(self) -> bool:
        return isinstance(self.before, On) and not isinstance(self.after, On)

    @property
    def switched_on(self) -> bool:
        return isinstance(self.after, On) and not isinstance(self.before, On)


def changed_ages(
    pieces: Iterable[Piece],
    before: View,
    after: View,
    alarms: Iterable[AlarmCondition] | None = None,
) -> Iterator[AgesChanged]:
    """Every alarm in the order of the policy, its ages from the youngest; neighbours that mean
    the same are told once."""
    held = list(pieces)
    for alarm in ALARM_CONDITIONS.values() if alarms is None else alarms:
        yield from _merged(_changed(held, before, after, alarm))


def _changed(
    pieces: Iterable[Piece], before: View, after: View, alarm: AlarmCondition
) -> Iterator[AgesChanged]:
    for piece in pieces:
        was = before.settings(piece.before).get(alarm.key)
        now = after.settings(piece.after).get(alarm.key)
        if was is not now and was != now:
            parts = parts_of(alarm, was, now)
            yield AgesChanged(alarm, piece.ages, was, now, parts, (piece,))


def _merged(changes: Iterable[AgesChanged]) -> Iterator[AgesChanged]:
    found: list[AgesChanged] = list(changes)
    if not found:
        return
    last = found[0]
    for left, right in pairwise(found):
        if left.ages.end == right.ages.start and _means_the_same(left, right):
            ages = AgeSpan(last.ages.start, right.ages.end)
            last = replace(last, ages=ages, pieces=(*last.pieces, *right.pieces))
        else:
            yield last
            last = right
    yield last


def _means_the_same(one: AgesChanged, other: AgesChanged) -> bool:
    if one.words_only or other.words_only:
        return (one.before, one.after) == (other.before, other.after)
    return (bare(one.before), bare(one.after)) == (bare(other.before), bare(other.after))
