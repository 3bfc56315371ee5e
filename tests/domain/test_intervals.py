from collections.abc import Callable
from fractions import Fraction
from math import comb

import pytest

from app.domain.intervals import (
    Interval,
    at_most,
    clopper_pearson,
    hypergeometric_bounds,
    hypergeometric_counts,
    wilson,
)

METHODS: list[Callable[[int, int], Interval]] = [
    wilson,
    clopper_pearson,
    lambda found, read: hypergeometric_bounds(found, read, 60),
]


@pytest.mark.parametrize("interval", METHODS)
def test_reading_nothing_says_nothing(interval: Callable[[int, int], Interval]) -> None:
    assert (interval(0, 0).low, interval(0, 0).high) == (0.0, 1.0)


@pytest.mark.parametrize("interval", METHODS)
def test_the_share_found_lies_within_its_interval(
    interval: Callable[[int, int], Interval],
) -> None:
    for found in range(21):
        bounds = interval(found, 20)
        assert 0 <= bounds.low <= found / 20 <= bounds.high <= 1


@pytest.mark.parametrize("interval", METHODS)
def test_what_has_the_property_and_what_has_not_mirror_each_other(
    interval: Callable[[int, int], Interval],
) -> None:
    for found in range(21):
        assert interval(found, 20).low == pytest.approx(1 - interval(20 - found, 20).high)


def chance(wanted: range, read: int, has: int, fleet: int) -> Fraction:
    ways = sum(comb(has, k) * comb(fleet - has, read - k) for k in wanted)
    return Fraction(ways, comb(fleet, read))


@pytest.mark.parametrize("fleet", range(1, 14))
@pytest.mark.parametrize("doubt", [Fraction(1, 20), Fraction(1, 10), Fraction(1, 5)])
def test_small_fleets_agree_with_fractions_at_every_border(fleet: int, doubt: Fraction) -> None:
    confidence = float(1 - doubt)
    for read in range(fleet + 1):
        for found in range(read + 1):
            could = range(found, fleet - (read - found) + 1)
            low = [h for h in could if chance(range(found, read + 1), read, h, fleet) > doubt / 2]
            high = [h for h in could if chance(range(found + 1), read, h, fleet) > doubt / 2]
            one_sided = [h for h in could if chance(range(found + 1), read, h, fleet) > doubt]
            bounds = hypergeometric_counts(found, read, fleet, confidence)
            assert bounds == (low[0], high[-1])
            assert at_most(found, read, fleet, confidence) == one_sided[-1]


@pytest.mark.parametrize(
    ("fleet", "most"),
    [(9, 8), (10, 8), (11, 9)],
    ids=["just under", "at", "just over"],
)
def test_a_chance_of_exactly_the_doubt_is_too_unlikely(fleet: int, most: int) -> None:
    """One device read and right: with all others off, the chance of that is 1 in `fleet`. In
    binary floating point 1 - 0.9 is a little less than 1 in 10, and would answer 9 of 10."""
    assert at_most(0, 1, fleet, 0.9) == most


def test_a_whole_region_is_answered() -> None:
    assert hypergeometric_counts(950, 1000, 100_000) == (93_469, 96_260)
    assert at_most(25_000, 50_000, 100_000) == 50_261


@pytest.mark.parametrize(
    ("found", "read", "fleet", "confidence", "reason"),
    [
        (-1, 5, 40, 0.95, "found"),
        (6, 5, 40, 0.95, "found"),
        (0, 41, 40, 0.95, "fleet"),
        (0, 0, 0, 0.95, "fleet"),
        (0, 5, 40, 0.0, "confidence"),
        (0, 5, 40, 1.0, "confidence"),
        (0, 5, 40, 95.0, "confidence"),
    ],
)
def test_what_makes_no_sense_is_refused(
    found: int, read: int, fleet: int, confidence: float, reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        hypergeometric_bounds(found, read, fleet, confidence)
    with pytest.raises(ValueError, match=reason):
        at_most(found, read, fleet, confidence)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
@pytest.mark.parametrize(
    ("found", "read", "confidence", "reason"),
    [(-1, 5, 0.95, "found"), (6, 5, 0.95, "found"), (1, 5, 1.0, "confidence")],
)
def test_shares_without_a_fleet_are_checked_too(
    interval: Callable[[int, int, float], Interval],
    found: int,
    read: int,
    confidence: float,
    reason: str,
) -> None:
    with pytest.raises(ValueError, match=reason):
        interval(found, read, confidence)
