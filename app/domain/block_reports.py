"""The new reports of a file, which may be a hundred thousand: each takes a few dozen bytes here,
and is put together when it is asked for."""

from array import array
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from app.domain.device_reports import StateRead, Told
from app.domain.reading_sets import BlockReport, ReadingSet

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_TICK = timedelta(microseconds=1)
KEY_BYTES = 32  # of SHA-256


def ticks(at: datetime) -> int:
    """Microseconds."""
    return (at - _EPOCH) // _TICK


@lru_cache(maxsize=4096)
def moment_of(ticked: int) -> datetime:
    return _EPOCH + ticked * _TICK


class How(NamedTuple):
    """What many reports share besides what was found."""

    preset: str
    state_read: StateRead
    told: Told


class BlockReports:
    """`devices`, `hows` and `sets` are what the numbers of each report point at."""

    def __init__(self, devices: list[str], hows: list[How]) -> None:
        self.devices, self.hows = devices, hows
        self.sets: list[ReadingSet] = []
        self.device, self.how, self.found = array("I"), array("I"), array("I")
        self.at = array("q")
        self.first, self.count = array("I"), array("H")
        self.scattered: dict[int, array[int]] = {}
        """The rows of a report that do not stand together, instead of `first` and `count`."""
        self.keys = bytearray()

    def __len__(self) -> int:
        return len(self.keys) // KEY_BYTES

    def __getitem__(self, number: int) -> BlockReport:
        how = self.hows[self.how[number]]
        return BlockReport(
            self.devices[self.device[number]],
            moment_of(self.at[number]),
            how.state_read,
            how.told,
            self.sets[self.found[number]],
            f"file:{self.keys[number * KEY_BYTES : (number + 1) * KEY_BYTES].hex()}",
            self._rows(number),
        )

    def _rows(self, number: int) -> tuple[int, ...]:
        if self.scattered and number in self.scattered:
            return tuple(self.scattered[number])
        return self.first[number], self.count[number]

    def __iter__(self) -> Iterator[BlockReport]:
        return map(self.__getitem__, range(len(self)))

    def kept(self, numbers: Sequence[int]) -> "BlockReports":
        """Only these, in their order."""
        found = BlockReports(self.devices, self.hows)
        found.sets = self.sets
        for name in ("device", "how", "found", "at", "first", "count"):
            column: array[int] = getattr(self, name)
            setattr(found, name, array(column.typecode, [column[number] for number in numbers]))
        for new, number in enumerate(numbers):
            found.keys += self.keys[number * KEY_BYTES : (number + 1) * KEY_BYTES]
            if number in self.scattered:
                found.scattered[new] = self.scattered[number]
        return found

    @property
    def tags(self) -> list[str]:
        """Of the devices that have one, in order."""
        return sorted([self.devices[number] for number in set(self.device)])

    @property
    def readings(self) -> int:
        sizes = np.array([len(one.cells) for one in self.sets], np.int64)
        return int(sizes[np.frombuffer(self.found, np.uint32)].sum()) if len(self) else 0

    def in_time(self) -> "array[int]":
        """Their numbers in the order in which they were read."""
        ordered = np.argsort(np.frombuffer(self.at, np.int64), kind="stable")
        return array("q", ordered.tobytes())
