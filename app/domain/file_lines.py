"""Where the rows of a file stand in it, kept and told in short: 2-41,90."""

from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence


class FileLines:
    """By row. Most stand one below the other, or are readings of the same line, so what is kept
    are stretches: the first row, its line, and whether every row has a line of its own."""

    def __init__(self) -> None:
        self._rows, self._lines, self._steps = array("I"), array("I"), bytearray()
        self._count, self._step = 0, 1
        self._next = -1

    def add(self, line: int, count: int = 1) -> None:
        """Of so many rows, each in the line behind the one before it."""
        if line != self._next or (count > 1 and not self._step):
            self._begin(line, count)
        self._count += count
        self._next = line + self._step * count

    def _begin(self, line: int, count: int) -> None:
        if count == 1 and self._count and self._is_alone(line):
            self._step = self._steps[-1] = 0
            return
        self._rows.append(self._count)
        self._lines.append(line)
        self._steps.append(1)
        self._step = 1

    def _is_alone(self, line: int) -> bool:
        return self._lines[-1] == line and self._rows[-1] == self._count - 1

    @property
    def last(self) -> int:
        return self._next - self._step

    def __len__(self) -> int:
        return self._count

    def __getitem__(self, row: int) -> int:
        at = self._stretch(row)
        return self._lines[at] + self._steps[at] * (row - self._rows[at])

    def straight_from(self, row: int, count: int) -> int | None:
        """The line of this row, if so many from it on are known to stand one below the other."""
        at = self._stretch(row)
        until = self._rows[at + 1] if at + 1 < len(self._rows) else self._count
        if row + count > until or (count > 1 and not self._steps[at]):
            return None
        return self._lines[at] + self._steps[at] * (row - self._rows[at])

    def _stretch(self, row: int) -> int:
        if not 0 <= row < self._count:
            raise IndexError(row)
        return bisect_right(self._rows, row) - 1

    def __iter__(self) -> Iterator[int]:
        return (self[row] for row in range(self._count))


def lines_in_short(rows: Sequence[int], lines: FileLines) -> str:
    """`rows`: the number of a first row and how many, in turn; `lines`: where each row stands."""
    if len(rows) == _ONE_RUN:
        first = lines.straight_from(*rows)
        if first is not None:
            return _told(first, first + rows[1] - 1)
    return ",".join(_stretches(_each(rows, lines)))


_ONE_RUN = 2


def _each(rows: Sequence[int], lines: FileLines) -> list[int]:
    """Once each: a line may hold several readings."""
    return sorted({lines[row] for row in each_row(rows)})


def each_row(rows: Sequence[int]) -> Iterator[int]:
    """Of a number of a first row and how many, in turn."""
    for first, count in zip(rows[::2], rows[1::2], strict=True):
        yield from range(first, first + count)


def _stretches(lines: Iterable[int]) -> Iterable[str]:
    first = last = 0
    for line in lines:
        if line != last + 1 and last:
            yield _told(first, last)
        if line != last + 1 or not last:
            first = line
        last = line
    if last:
        yield _told(first, last)


def _told(first: int, last: int) -> str:
    return str(first) if first == last else f"{first}-{last}"
