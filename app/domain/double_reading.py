"""Two people read the same preset of a device, each blind to the other.

What both found alike is known twice. Where they differ one of them is wrong, and which one only
the device can tell: entries are never changed, a third look at it settles the matter.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Protocol

from app.domain.device_reports import FoundOn, NotRead, Reading
from app.domain.fleet import was_read
from app.domain.intervals import Interval, wilson

WITHIN = timedelta(days=1)
"""Later than that the device itself may have changed between the two."""
DECOYS = 2
"""Fields that matched, read again with those that did not, so that nobody is told where to look.
Common practice: two at least."""


class Dice(Protocol):
    def sample(self, population: Sequence[str], k: int) -> list[str]:
        """`k` of them, none twice, in a random order."""


@dataclass(frozen=True)
class Look:
    """One person's readings of one preset, by alarm. `person` is empty where nobody was told.

    `counts`: the device showed what it holds for the next patient.
    """

    device: str
    preset: str
    person: str
    read_at: datetime
    counts: bool
    readings: Mapping[str, Reading]

    def is_of_the_same(self, other: "Look") -> bool:
        return (self.device, self.preset) == (other.device, other.preset)


@dataclass(frozen=True)
class DoubleReading:
    """`agreed` and `mismatches` by alarm; what only one of the two could read is in neither."""

    first: Look
    second: Look
    agreed: Mapping[str, Reading]
    mismatches: Mapping[str, tuple[Reading, Reading]]

    @property
    def compared(self) -> int:
        return len(self.agreed) + len(self.mismatches)


@dataclass(frozen=True)
class Settled:
    """`known`: what two looks found alike, with no third against them; `open` needs yet another
    look at the device."""

    known: Mapping[str, Reading]
    open: tuple[str, ...]


@dataclass(frozen=True)
class Disagreement:
    mismatches: int
    compared: int

    @property
    def share(self) -> float | None:
        return self.mismatches / self.compared if self.compared else None

    @property
    def interval(self) -> Interval:
        return wilson(self.mismatches, self.compared)


def double_readings(looks: Iterable[Look]) -> list[DoubleReading]:
    """Each look is part of one pair at most; the earliest two that go together make one."""
    waiting: dict[tuple[str, str], Look] = {}
    found = []
    for look in sorted(looks, key=lambda look: look.read_at):
        if not look.counts or not look.person:
            continue
        place = look.device, look.preset
        before = waiting.get(place)
        if before is None or look.read_at - before.read_at > WITHIN:
            waiting[place] = look
        elif before.person != look.person:
            found.append(_held_together(waiting.pop(place), look))
    return found


def double_reading(first: Look, second: Look) -> DoubleReading | None:
    """None where these are not two readings: by one person they are one."""
    return next(iter(double_readings([first, second])), None)


def _held_together(first: Look, second: Look) -> DoubleReading:
    both = [
        alarm
        for alarm, reading in first.readings.items()
        if was_read(reading) and was_read(second.readings.get(alarm, NotRead()))
    ]
    pairs = {alarm: (first.readings[alarm], second.readings[alarm]) for alarm in both}
    return DoubleReading(
        first,
        second,
        agreed={alarm: _joined(*pair) for alarm, pair in pairs.items() if alike(*pair)},
        mismatches={alarm: pair for alarm, pair in pairs.items() if not alike(*pair)},
    )


def alike(one: Reading, other: Reading) -> bool:
    """What one of them did not look at (a delay, a unit) is no difference."""
    if not isinstance(one, FoundOn) or not isinstance(other, FoundOn):
        return one == other
    pairs = (
        (one.limit, other.limit),
        (one.unit, other.unit),
        (one.priority, other.priority),
        (one.delay_s, other.delay_s),
        (one.latching, other.latching),
    )
    return all(None in pair or pair[0] == pair[1] for pair in pairs)


def _joined(one: Reading, other: Reading) -> Reading:
    """Of two that are alike, everything that either of them looked at."""
    if not isinstance(one, FoundOn) or not isinstance(other, FoundOn):
        return one
    return replace(
        one,
        limit=other.limit if one.limit is None else one.limit,
        unit=one.unit or other.unit,
        priority=one.priority or other.priority,
        delay_s=other.delay_s if one.delay_s is None else one.delay_s,
        latching=other.latching if one.latching is None else one.latching,
    )


def fields_to_read_again(double: DoubleReading, dice: Dice) -> list[str]:
    """Nothing where nothing differs; fewer decoys only where fewer fields matched."""
    if not double.mismatches:
        return []
    matching = sorted(double.agreed)
    decoys = dice.sample(matching, min(DECOYS, len(matching)))
    fields = sorted([*double.mismatches, *decoys])
    return dice.sample(fields, len(fields))


def settle(double: DoubleReading, third: Look) -> Settled:
    """Raises ValueError where the third is no later look at the same preset that counts."""
    later = third.read_at > max(double.first.read_at, double.second.read_at)
    if not (third.is_of_the_same(double.first) and third.counts and later):
        raise ValueError("a mismatch is settled by a later look at the same preset of the device")
    agreed = {alarm: (reading,) for alarm, reading in double.agreed.items()}
    known = {
        alarm: reading
        for alarm, found in {**agreed, **double.mismatches}.items()
        if (reading := _borne_out(found, third.readings.get(alarm, NotRead()))) is not None
    }
    still = tuple(a for a in [*double.mismatches, *double.agreed] if a not in known)
    return Settled(known, still)


def _borne_out(found: Sequence[Reading], third: Reading) -> Reading | None:
    """The reading that two of three have; a third that is like all of several leaves it open."""
    if not was_read(third):
        return found[0] if len(found) == 1 else None
    borne_out = [_joined(reading, third) for reading in found if alike(reading, third)]
    return borne_out[0] if len(borne_out) == 1 else None


def disagreement(doubles: Iterable[DoubleReading]) -> Disagreement:
    """Of all fields that two people read, those on which they differed."""
    every = list(doubles)
    return Disagreement(
        sum(len(double.mismatches) for double in every), sum(double.compared for double in every)
    )
