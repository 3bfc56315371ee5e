from decimal import Decimal

import pytest

from app.domain.displaced_line import WIDTH, displaced_line

REACH = Decimal(300)


@pytest.mark.parametrize(
    ("signed", "found", "signed_x", "found_x"),
    [
        (170, 200, 96, 144),
        (200, 170, 144, 96),
        (100, 200, 40, 200),
        (100, 300, 40, 200),
    ],
)
def test_a_small_slip_looks_small_and_a_large_one_fits(
    signed: int, found: int, signed_x: float, found_x: float
) -> None:
    line = displaced_line(Decimal(signed), Decimal(found), looser=True, reach=REACH)

    assert line is not None
    assert (line.signed_x, line.found_x) == (signed_x, found_x)
    assert (line.gap_x, line.gap_width) == (min(signed_x, found_x), abs(signed_x - found_x))
    assert 0 < line.gap_x < WIDTH


@pytest.mark.parametrize(("looser", "kind"), [(True, "silent"), (False, "noisy")])
def test_between_the_two_it_is_silent_or_noisy(looser: bool, kind: str) -> None:
    line = displaced_line(Decimal(90), Decimal(70), looser=looser, reach=REACH)

    assert line is not None
    assert line.kind == kind


def test_equal_limits_are_not_displaced() -> None:
    assert displaced_line(Decimal(90), Decimal("90.0"), looser=True, reach=REACH) is None
