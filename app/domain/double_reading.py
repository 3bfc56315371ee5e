"""Looks at one preset of a device, each blind to the others.

Most deviations that a single look finds are slips of reading or typing. So what the first look
flags is looked at again, mixed with alarms that matched, and nobody is told which is which. Where
two looks differ one of them is wrong, and which one only the device can tell: entries are never
changed, a third look at it settles the matter.
"""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Protocol

from app.domain.device_reports import CouldNotRead, FoundOn, FoundText, Reading
from app.domain.findings import Severity
from app.domain.fleet import was_read

WITHIN = timedelta(days=1)
"""Later than that the device itself may have changed between two looks."""
DECOYS = 2
"""Alarms that matched, read again with those in doubt, so that nobody is told where to look.
Common practice: two at least."""
MOST_LOOKS = 3
UNSETTLED = CouldNotRead("three looks at it found three things")


class Dice(Protocol):
    def sample(self, population: Sequence[str], k: int) -> list[str]:
        """`k` of them, none twice, in a random order."""


@dataclass(frozen=True)
class Look:
    """One person's readings, by alarm. `flagged`: what deviates by this look alone, without
    notes."""

    person: int
    read_at: datetime
    readings: Mapping[str, Reading]
    flagged: Mapping[str, Severity]

    @property
    def unsafe(self) -> frozenset[str]:
        return frozenset(a for a, severity in self.flagged.items() if severity is Severity.UNSAFE)


@dataclass(frozen=True)
class NextLook:
    """`asked` in an order that tells nothing; `other_than`: people who may not make it; `closely`:
    alarms of which priority, delay and latching are asked as well."""

    number: int
    asked: tuple[str, ...]
    other_than: frozenset[int] = frozenset()
    closely: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Rereading:
    """What looking again brought: of `flags` so many were `confirmed`, and of the alarms that two
    looks read so many `disagreed`."""

    flags: int
    confirmed: int
    compared: int
    disagreed: int


def next_look(looks: Sequence[Look], readers: Set[int], dice: Dice) -> NextLook | None:
    """None: nothing is in doubt, or three looks were not enough. `readers`: all who may look."""
    doubt = in_doubt(looks)
    if not doubt or len(looks) >= MOST_LOOKS:
        return None
    asked = _mixed(looks, doubt, dice)
    return NextLook(len(looks) + 1, asked, _barred(looks, readers))


def in_doubt(looks: Sequence[Look]) -> tuple[str, ...]:
    """What deviates although only one look saw it, and what the last look saw as no other did."""
    alarms = dict.fromkeys(alarm for look in looks for alarm in look.readings)
    return tuple(alarm for alarm in alarms if _is_doubtful(looks, alarm))


def _is_doubtful(looks: Sequence[Look], alarm: str) -> bool:
    seen = _seen(looks, alarm)
    if len(seen) < 2:
        return any(alarm in look.flagged for look in seen)
    last = seen[-1].readings[alarm]
    return not any(alike(last, look.readings[alarm]) for look in seen[:-1])


def _seen(looks: Sequence[Look], alarm: str) -> list[Look]:
    return [look for look in looks if alarm in look.readings and was_read(look.readings[alarm])]


def _mixed(looks: Sequence[Look], doubt: Sequence[str], dice: Dice) -> tuple[str, ...]:
    """Where fewer alarms matched, the others are asked that nobody has read yet."""
    told = {*doubt, *(alarm for look in looks for alarm in look.flagged)}
    found = sorted(looks[0].readings.items())
    matching = [alarm for alarm, reading in found if alarm not in told and was_read(reading)]
    unread = [alarm for alarm, reading in found if alarm not in told and not was_read(reading)]
    decoys = dice.sample(matching, min(DECOYS, len(matching)))
    decoys += dice.sample(unread, min(DECOYS - len(decoys), len(unread)))
    asked = sorted([*doubt, *decoys])
    return tuple(dice.sample(asked, len(asked)))


def _barred(looks: Sequence[Look], readers: Set[int]) -> frozenset[int]:
    """A second person looks at anything unsafe; a third look is by a third one if there is one."""
    before = frozenset(look.person for look in looks)
    if len(before) == 1 and any(look.unsafe for look in looks):
        return before
    return before if len(looks) > 1 and readers - before else frozenset()


def settled(looks: Sequence[Look]) -> dict[str, Reading]:
    """What the looks bear out, by alarm."""
    alarms = dict.fromkeys(alarm for look in looks for alarm in look.readings)
    return {alarm: _settled(looks, alarm) for alarm in alarms}


def _settled(looks: Sequence[Look], alarm: str) -> Reading:
    seen = _seen(looks, alarm)
    if not seen:
        return next(look.readings[alarm] for look in looks if alarm in look.readings)
    if _is_doubtful(looks, alarm):
        return UNSETTLED
    last = seen[-1].readings[alarm]
    for look in seen[:-1]:
        if alike(last, look.readings[alarm]):
            last = _joined(last, look.readings[alarm])
    return last


def rereading(looks: Sequence[Look]) -> Rereading:
    """Counted once the looks are over."""
    first, second, known = looks[0], looks[1], settled(looks)
    both = [a for a in second.readings if len(_seen([first, second], a)) == 2]
    return Rereading(
        flags=len(first.flagged),
        confirmed=sum(alike(first.readings[alarm], known[alarm]) for alarm in first.flagged),
        compared=len(both),
        disagreed=sum(not alike(first.readings[a], second.readings[a]) for a in both),
    )


def alike(one: Reading, other: Reading) -> bool:
    """What one of them did not look at (a delay, a unit) is no difference."""
    if isinstance(one, FoundText) and isinstance(other, FoundText):
        return one.text.casefold() == other.text.casefold()
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
