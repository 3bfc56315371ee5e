import pytest

from app.domain.file_lines import lines_in_short


@pytest.mark.parametrize(
    ("rows", "lines", "told"),
    [
        ((0, 3), (2, 3, 4), "2-4"),
        ((1, 1), (2, 3, 4), "3"),
        ((0, 3), (2, 4, 5), "2,4-5"),  # an empty line between
        ((0, 1, 2, 1), (2, 3, 4), "2,4"),
        ((2, 1, 0, 2), (2, 3, 4), "2-4"),
        ((0, 3), (7, 7, 7), "7"),  # a row with a column for each alarm
        ((0, 4), (7, 7, 8, 8), "7-8"),
    ],
)
def test_lines_stand_once_and_in_stretches(
    rows: tuple[int, ...], lines: tuple[int, ...], told: str
) -> None:
    assert lines_in_short(rows, lines) == told
