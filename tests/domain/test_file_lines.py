from random import Random

import pytest

from app.domain.file_lines import FileLines, lines_in_short


@pytest.mark.parametrize(
    ("rows", "lines", "told"),
    [
        ((0, 3), (2, 3, 4), "2-4"),
        ((1, 1), (2, 3, 4), "3"),
        ((0, 3), (2, 4, 5), "2,4-5"),  # an empty line between
        ((0, 1, 2, 1), (2, 3, 4), "2,4"),
        ((2, 1, 0, 2), (2, 3, 4), "2-4"),
        ((0, 3), (7, 7, 7), "7"),  # a row with a column for each alarm
        ((1, 1), (7, 7, 7), "7"),
        ((0, 4), (7, 7, 8, 8), "7-8"),
        ((0, 3), (7, 7, 9), "7,9"),
        ((0, 3), (7, 9, 9), "7,9"),
    ],
)
def test_lines_stand_once_and_in_stretches(
    rows: tuple[int, ...], lines: tuple[int, ...], told: str
) -> None:
    assert lines_in_short(rows, kept(lines)) == told


@pytest.mark.parametrize("seed", range(20))
def test_every_row_is_told_by_its_line(seed: int) -> None:
    dice = Random(seed)  # noqa: S311 - no secret
    written, lines, line = FileLines(), list[int](), 1
    for _ in range(200):
        line += dice.choice((0, 1, 1, 3))
        count = dice.choice((1, 1, 1, 2, 40))
        lines += range(line, line + count)
        written.add(line, count)
        line += count - 1

    assert list(written) == lines
    assert written.last == lines[-1]
    assert len(written) == len(lines)
    for _ in range(200):
        first, count = dice.randrange(len(lines)), dice.randint(1, 5)
        stretch = lines[first : first + count]
        count = len(stretch)
        straight = stretch == list(range(stretch[0], stretch[0] + count))
        assert written.straight_from(first, count) in ((None, stretch[0]) if straight else (None,))
        assert lines_in_short((first, count), written) == ",".join(in_short(stretch))


@pytest.mark.parametrize("row", [-1, 2])
def test_there_is_no_other_row(row: int) -> None:
    with pytest.raises(IndexError):
        kept((2, 3))[row]


def test_a_million_neighbours_are_one_stretch() -> None:
    """What a file takes to remember does not grow with its rows."""
    plain, wide = FileLines(), FileLines()
    for row in range(1000):
        plain.add(2 + row * 1000, 1000)
        for _ in range(40):
            wide.add(2 + row)

    assert len(plain._rows) == 1
    assert len(wide._rows) == 1000


def kept(lines: tuple[int, ...]) -> FileLines:
    found = FileLines()
    for line in lines:
        found.add(line)
    return found


def in_short(lines: list[int]) -> list[str]:
    """Told anew, as plainly as can be."""
    found: list[list[int]] = []
    for line in sorted(set(lines)):
        if found and line == found[-1][-1] + 1:
            found[-1].append(line)
        else:
            found.append([line])
    return [str(some[0]) if len(some) == 1 else f"{some[0]}-{some[-1]}" for some in found]
