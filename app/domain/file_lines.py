"""Lines of a file in short: 2-41,90."""

from collections.abc import Iterable, Sequence


def lines_in_short(rows: Sequence[int], lines: Sequence[int]) -> str:
    """`rows`: the number of a first row and how many, in turn; `lines`: where each row stands."""
    if len(rows) == _ONE_RUN:
        first, last = lines[rows[0]], lines[rows[0] + rows[1] - 1]
        if last - first == rows[1] - 1:
            return _told(first, last)
    return ",".join(_stretches(_each(rows, lines)))


_ONE_RUN = 2


def _each(rows: Sequence[int], lines: Sequence[int]) -> list[int]:
    """Once each: a line may hold several readings."""
    runs = zip(rows[::2], rows[1::2], strict=True)
    return sorted({lines[row] for first, count in runs for row in range(first, first + count)})


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
