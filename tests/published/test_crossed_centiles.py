"""PALS 2015 ranges against the centiles of Fleming 2011: which cross what, at which ages.

Fleming et al. 2011, Lancet 377:1011-8 (abstract): against their centiles, limits of ranges in use
often lay beyond the 1st and 99th centile, or crossed the median. The paper compared the ranges of
its time; here the same is computed for the PALS 2015 ranges as held in `pals_2015`, against the
printed values of Web Tables 4 and 5. The list below was read off the two printed tables by hand.
"""

from decimal import Decimal

import pytest

from app.domain.ages import AgeSpan, months
from app.domain.centiles import CentileRow, CentileTable
from app.domain.crossed_centiles import crossed_sources, crossings
from app.domain.reference_ranges import fleming_2011, pals_2015
from app.domain.reference_ranges.range_rows import RangeRow

LOW, HIGH = "low limit below the 1st centile", "high limit above the 99th centile"
MEDIAN = "high limit below the median"
PALS: list[tuple[str, str | None, str, int, str, float]] = [
    ("Neonate <28 d", "awake", "0 d to 28 d", 100, LOW, 107),
    ("Neonate <28 d", "awake", "0 d to 28 d", 205, HIGH, 181),
    ("Neonate <28 d", "asleep", "0 d to 28 d", 90, LOW, 107),
    ("Infant 1-12 mo", "awake", "1 mo to 3 mo", 100, LOW, 107),
    ("Infant 1-12 mo", "awake", "1 mo to 3 mo", 190, HIGH, 181),
    ("Infant 1-12 mo", "awake", "3 mo to 6 mo", 100, LOW, 104),
    ("Infant 1-12 mo", "awake", "3 mo to 6 mo", 190, HIGH, 175),
    ("Infant 1-12 mo", "awake", "6 mo to 9 mo", 190, HIGH, 168),
    ("Infant 1-12 mo", "awake", "9 mo to 1 y", 190, HIGH, 161),
    ("Infant 1-12 mo", "asleep", "1 mo to 3 mo", 90, LOW, 107),
    ("Infant 1-12 mo", "asleep", "3 mo to 6 mo", 90, LOW, 104),
    ("Infant 1-12 mo", "asleep", "6 mo to 9 mo", 90, LOW, 98),
    ("Infant 1-12 mo", "asleep", "9 mo to 1 y", 90, LOW, 93),
    ("Toddler 1-2 y", "asleep", "1 y to 18 mo", 80, LOW, 88),
    ("Toddler 1-2 y", "asleep", "1 y to 18 mo", 120, MEDIAN, 123),
    ("Toddler 1-2 y", "asleep", "18 mo to 2 y", 80, LOW, 82),
    ("Preschool 3-5 y", "asleep", "3 y to 4 y", 65, LOW, 70),
    ("Preschool 3-5 y", "asleep", "3 y to 4 y", 100, MEDIAN, 104),
    ("School 6-11 y", "awake", "8 y to 12 y", 118, HIGH, 115),
    ("School 6-11 y", "asleep", "6 y to 8 y", 58, LOW, 59),
    ("School 6-11 y", "asleep", "6 y to 8 y", 90, MEDIAN, 91),
]


def test_pals_crosses_these_centiles_at_these_ages_and_no_others() -> None:
    found = list(crossings(pals_2015.NORMAL_RANGES, fleming_2011.TABLE))

    told = [
        (one.row.group, one.row.when, str(one.ages), int(one.limit), one.words, one.printed)
        for one in found
    ]
    assert told == PALS
    assert {one.row.vital_sign for one in found} == {"heart-rate"}  # no respiratory limit crosses


def test_the_share_below_a_limit_agrees_with_what_it_crosses() -> None:
    for source in crossed_sources():
        for one in source.crossings:
            centile = {"1st centile": 0.01, "median": 0.5, "99th centile": 0.99}[one.centile]
            assert (one.share < centile) == ("below" in one.words)


@pytest.mark.parametrize(
    ("limit", "words"), [(30, "under 0.1 %"), (49, "0.9 %"), (180, "over 99.9 %")]
)
def test_no_share_is_told_as_nothing_or_all(limit: int, words: str) -> None:
    span = AgeSpan(months(0), months(12))
    row = CentileRow("heart-rate", "x", span, (1.0, 50.0, 99.0), (50.0, 100.0, 150.0))
    low = None if limit > 100 else Decimal(limit)
    limits = RangeRow("heart-rate", "x", span, low, None if low else Decimal(limit))

    (found,) = crossings([limits], CentileTable("s", "P", (row,)))

    assert found.share_words == words


def test_every_source_names_its_citation() -> None:
    assert all(source.citation and source.crossings for source in crossed_sources())


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ("50", "150", []),  # on the centiles
        ("49", "150", [LOW]),
        ("50", "151", [HIGH]),
        ("100", "100", []),  # on the median
        ("101", "150", ["low limit above the median"]),
        ("50", "99", [MEDIAN]),
    ],
)
def test_a_limit_on_a_centile_does_not_cross_it(low: str, high: str, words: list[str]) -> None:
    span = AgeSpan(months(0), months(12))
    row = CentileRow("heart-rate", "x", span, (1.0, 50.0, 99.0), (50.0, 100.0, 150.0))
    limits = RangeRow("heart-rate", "x", span, Decimal(low), Decimal(high))

    found = crossings([limits], CentileTable("s", "P", (row,)))

    assert [one.words for one in found] == words


def test_ages_that_only_touch_are_not_compared() -> None:
    older = RangeRow.of("heart-rate", "x", (216, 300), ("1", "999"))

    assert list(crossings([older], fleming_2011.TABLE)) == []
