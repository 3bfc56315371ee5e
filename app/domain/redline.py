"""What changes between two revisions, told as what it means before any number.

The gravest comes first: what opens a silence, then looser, switched off, other, switched on,
tighter; where only words differ, last.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from app.domain.ages import AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.comparison import Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.redline_ages import (
    AgesChanged,
    Hand,
    Piece,
    View,
    changed_ages,
    hands,
    pieces_of,
    stated_by,
)
from app.domain.redline_circumstances import CircumstanceChange, circumstance_changes, overlays
from app.domain.redline_models import ModelChange, model_changes
from app.domain.redline_options import OptionChange, option_changes
from app.domain.redline_parts import Part, state_words
from app.domain.redline_silence import arrest_unheard, opened, opened_by
from app.domain.redline_words import at_ages, gap_words, means
from app.domain.settings_of_alarms import Setting
from app.domain.silence import SPO2_AVERAGING, Silence

__all__ = ["Change", "Rank", "Redline", "redline", "state_words"]


class Rank(StrEnum):
    """In the order of gravity."""

    OPENS = "opens a silence"
    LOOSER = "looser"
    SWITCHED_OFF = "switched off"
    OTHER = "other"
    SWITCHED_ON = "switched on"
    TIGHTER = "tighter"
    WORDS = "words only"


_RANKS = {
    Direction.LOOSER: Rank.LOOSER,
    Direction.TIGHTER: Rank.TIGHTER,
    Direction.SWITCHED_OFF: Rank.SWITCHED_OFF,
    Direction.SWITCHED_ON: Rank.SWITCHED_ON,
    Direction.OTHER: Rank.OTHER,
}


@dataclass(frozen=True)
class Change:
    """One alarm at some ages, plainly or under a circumstance, or one option of the device.

    `before` and `after` are the settings of an alarm; an option has none. `silent`: in words,
    what of danger passes unannounced that did not before.
    """

    rank: Rank
    direction: Direction
    sentence: str
    reason: str = ""
    ages: AgeSpan | None = None
    alarm: AlarmCondition | None = None
    option: str | None = None
    circumstance: str = ""
    before: Setting | None = None
    after: Setting | None = None
    parts: tuple[Part, ...] = ()
    silent: tuple[str, ...] = ()

    @property
    def words_only(self) -> bool:
        return self.rank is Rank.WORDS

    @property
    def details(self) -> str:
        return "; ".join(map(str, self.parts))


@dataclass(frozen=True)
class Redline:
    """`hands`: ages that another category holds. `relabelled`: (before, after) of a category."""

    hands: tuple[Hand, ...]
    relabelled: tuple[tuple[str, str], ...]
    circumstances: tuple[CircumstanceChange, ...]
    models: tuple[ModelChange, ...]
    changes: tuple[Change, ...]

    @property
    def empty(self) -> bool:
        return not any((self.hands, self.relabelled, self.circumstances, self.models, self.changes))

    @property
    def counts(self) -> dict[Rank, int]:
        """Only ranks that occur, the gravest first."""
        counted = Counter(change.rank for change in self.changes)
        return {rank: counted[rank] for rank in Rank if counted[rank]}

    @property
    def in_words(self) -> str:
        """2 open a silence · 5 looser · 3 tighter"""
        told = []
        for rank, count in self.counts.items():
            words = "opens a silence" if count == 1 else "open a silence"
            told.append(f"{count} {words if rank is Rank.OPENS else rank.value}")
        other = len(self.hands) + len(self.relabelled) + len(self.circumstances)
        told += [f"{other} of categories and circumstances"] if other else []
        told += [f"{len(self.models)} of device models"] if self.models else []
        return " · ".join(told)

    def of(self, rank: Rank) -> tuple[Change, ...]:
        return tuple(change for change in self.changes if change.rank is rank)

    @property
    def gravest(self) -> tuple[Change, ...]:
        """For a summary: never those of which only the words differ."""
        return tuple(change for change in self.changes if not change.words_only)[:3]


def redline(before: Profile, after: Profile, bounds: OuterBounds = DEFAULT_BOUNDS) -> Redline:
    pieces, stated = pieces_of(before, after), stated_by(before, after)
    views = View(before, stated=stated), View(after, stated=stated)
    order = list(Rank)
    changes = [
        *_of_options(*views, pieces, bounds),
        *_of_alarms(*views, pieces, bounds),
        *_of_circumstances(before, after, pieces, bounds),
    ]
    return Redline(
        hands=hands(pieces),
        relabelled=tuple(_relabelled(before, after)),
        circumstances=tuple(circumstance_changes(before, after)),
        models=tuple(model_changes(before, after)),
        changes=tuple(sorted(changes, key=lambda change: order.index(change.rank))),
    )


def _relabelled(before: Profile, after: Profile) -> Iterator[tuple[str, str]]:
    for category in after.categories:
        old = before.category(category.key)
        if old is not None and old.label != category.label:
            yield old.label, category.label


def _of_alarms(
    before: View, after: View, pieces: list[Piece], bounds: OuterBounds
) -> Iterator[Change]:
    for change in changed_ages(pieces, before, after):
        yield _change(change, before, after, bounds, "")


def _of_circumstances(
    before: Profile, after: Profile, pieces: list[Piece], bounds: OuterBounds
) -> Iterator[Change]:
    for one in overlays(before, after, pieces):
        alarms = [alarm for key, alarm in ALARM_CONDITIONS.items() if key in one.alarms]
        for change in changed_ages(one.pieces, one.before, one.after, alarms):
            yield _change(change, one.before, one.after, bounds, one.label)


def _change(
    change: AgesChanged, before: View, after: View, bounds: OuterBounds, circumstance: str
) -> Change:
    direction = change.parts[0].lean if change.parts else Direction.OTHER
    if change.switched_off or change.switched_on:
        direction = Direction.SWITCHED_OFF if change.switched_off else Direction.SWITCHED_ON
    may_open = direction in (Direction.LOOSER, Direction.SWITCHED_OFF, Direction.OTHER)
    silent = opened_by(change, before, after, bounds) if may_open and change.parts else ()
    arrest = bool(change.parts) and arrest_unheard(change, before, after)
    told = means(change.alarm, change.before, change.after, change.parts)
    where = ", ".join(filter(None, (circumstance, at_ages(change.ages))))
    return Change(
        rank=_rank(direction, grave=bool(silent) or arrest, words_only=change.words_only),
        direction=direction,
        sentence=f"{where}: {told}",
        reason=change.after.reason if change.after else "",
        ages=change.ages,
        alarm=change.alarm,
        circumstance=circumstance,
        before=change.before,
        after=change.after,
        parts=change.parts,
        silent=(*_silent_words(silent, change.alarm), *(["an arrest"] if arrest else [])),
    )


def _silent_words(silent: tuple[Silence, ...], alarm: AlarmCondition) -> Iterator[str]:
    yield from (gap_words(one, alarm) for one in silent)


def _rank(direction: Direction, *, grave: bool, words_only: bool) -> Rank:
    if words_only:
        return Rank.WORDS
    return Rank.OPENS if grave else _RANKS[direction]


def _of_options(
    before: View, after: View, pieces: list[Piece], bounds: OuterBounds
) -> Iterator[Change]:
    for change in option_changes(before.profile, after.profile):
        silent = () if change.key != SPO2_AVERAGING else _averaged(before, after, pieces, bounds)
        told = (*silent, *([change.breach] if change.breach else []))
        yield Change(
            rank=_rank(change.direction, grave=bool(told), words_only=change.words_only),
            direction=change.direction,
            sentence=change.sentence,
            reason=change.after.reason if change.after else "",
            option=change.key,
            parts=_as_part(change),
            silent=told,
        )


def _as_part(change: OptionChange) -> tuple[Part, ...]:
    return () if change.words_only else (Part("value", *change.values, change.direction),)


def _averaged(
    before: View, after: View, pieces: list[Piece], bounds: OuterBounds
) -> tuple[str, ...]:
    """A longer averaging delays every low saturation alarm, whatever its setting says."""
    alarm = ALARM_CONDITIONS["spo2-low"]
    found = opened(alarm, pieces, before, after, bounds)
    return tuple(_silent_words(found, alarm))
