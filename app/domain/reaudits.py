"""What devices are known to hold, held again: against the policy and the bounds of today.

How a report was judged never changes. This tells what today's policy says of the same values.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from app.domain.block_gaps import BlockAgainst, HeldAgainst
from app.domain.block_severities import SEVERITIES
from app.domain.comparison import Direction
from app.domain.findings import Severity
from app.domain.reading_block import DIRECTIONS, ReadingBlock

Worst = Severity | None
"""Of a device; None: nothing that was read deviates."""


@dataclass(frozen=True)
class UnsafeToday:
    """One alarm of one device. `since_read`: the device was not unsafe when it was read."""

    device: str
    preset: str
    alarm: str
    direction: Direction
    since_read: bool

    @property
    def place(self) -> tuple[str, str, str]:
        return self.device, self.preset, self.alarm


@dataclass(frozen=True)
class Reaudit:
    """`counts`: devices by the worst at their reading and the worst today."""

    counts: Counter[tuple[Worst, Worst]] = field(default_factory=Counter)
    unsafe: tuple[UnsafeToday, ...] = ()

    def __add__(self, more: "Reaudit") -> "Reaudit":
        return Reaudit(self.counts + more.counts, self.unsafe + more.unsafe)

    @property
    def devices(self) -> int:
        return self.counts.total()

    def then(self, worst: Worst) -> int:
        return sum(many for (then, _), many in self.counts.items() if then is worst)

    def today(self, worst: Worst) -> int:
        return sum(many for (_, today), many in self.counts.items() if today is worst)

    @property
    def newly_unsafe(self) -> tuple[UnsafeToday, ...]:
        return tuple(one for one in self.unsafe if one.since_read)


def reaudited(
    against: BlockAgainst, block: ReadingBlock, devices: Sequence[str], then: Sequence[Worst]
) -> Reaudit:
    held = against.held(block)
    today = _worst_today(len(devices), held)
    return Reaudit(
        Counter(zip(then, today, strict=True)), tuple(_unsafe(held, block, devices, then))
    )


def _worst_today(devices: int, held: HeldAgainst) -> list[Worst]:
    """A note is nothing to act on."""
    worst: list[Worst] = [None] * devices
    for row, code in zip(held.found.rows.tolist(), held.severities.tolist(), strict=True):
        found, known = SEVERITIES[code], worst[row]
        if known is None or found.weight < known.weight:
            worst[row] = found
    return worst


def _unsafe(
    held: HeldAgainst, block: ReadingBlock, devices: Sequence[str], then: Sequence[Worst]
) -> Iterable[UnsafeToday]:
    for place in held.unsafe.tolist():
        row = int(held.found.rows[place])
        direction = DIRECTIONS[held.found.directions[place]]
        if direction is not None:
            preset, alarm = block.layout[held.found.columns[place]]
            since = then[row] is not Severity.UNSAFE
            yield UnsafeToday(devices[row], preset, alarm, direction, since)
