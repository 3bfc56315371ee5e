import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.domain.ages import BIRTH, Age, AgeSpan, days, months, years
from app.domain.centiles import CentileCurve, CentileRow, CentileTable, References
from app.domain.reference_ranges import PUBLISHED, with_own_table
from app.domain.reference_ranges.fleming_2011 import TABLE

PRINTED = (1.0, 10.0, 25.0, 50.0, 75.0, 90.0, 99.0)


@settings(max_examples=100, deadline=None)
@given(
    row=st.sampled_from(TABLE.rows),
    centile=st.floats(0.01, 99.99, allow_nan=False),
)
def test_the_value_at_a_centile_lies_at_that_centile(row: CentileRow, centile: float) -> None:
    value = row.curve.value_at(centile)

    assert row.curve.share_below(value) * 100 == pytest.approx(centile, rel=1e-6, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(
    row=st.sampled_from(TABLE.rows),
    one=st.floats(0, 300, allow_nan=False),
    two=st.floats(0, 300, allow_nan=False),
)
def test_a_higher_value_never_lies_at_a_lower_centile(
    row: CentileRow, one: float, two: float
) -> None:
    low, high = sorted((one, two))

    assert row.curve.share_below(low) <= row.curve.share_below(high) + 1e-12


def test_shares_lie_between_nothing_and_everything() -> None:
    curve = TABLE.rows[0].curve

    assert curve.share_below(-1000) == pytest.approx(0)
    assert curve.share_below(1000) == pytest.approx(1)


@pytest.mark.parametrize(
    ("value", "beyond"),
    [(87.9, True), (88, False), (123, False), (156, False), (156.1, True)],
)
def test_only_beyond_the_outermost_centiles_is_extrapolated(value: float, beyond: bool) -> None:
    toddler = TABLE.at("heart-rate", months(12))

    assert toddler is not None
    assert toddler.curve.extrapolated(value) is beyond


def test_beyond_them_the_normal_score_runs_straight_on() -> None:
    curve = CentileCurve.through(PRINTED, (88, 103, 112, 123, 132, 140, 156))
    slope = (curve.scores[-1] - curve.scores[-2]) / (156 - 140)

    assert curve.score(156) == pytest.approx(2.3263, abs=1e-4)
    assert curve.score(166) == pytest.approx(curve.score(156) + 10 * slope)
    assert curve.value_at(99.9) == pytest.approx(156 + (3.0902 - 2.3263) / slope, abs=1e-2)


def test_two_centiles_make_a_straight_line() -> None:
    curve = CentileCurve.through((2.5, 97.5), (60, 100))

    assert curve.value_at(50) == pytest.approx(80)
    assert curve.share_below(60) == pytest.approx(0.025)
    assert curve.share_below(50) < 0.025


@pytest.mark.parametrize(
    ("values", "value", "score"),
    [
        ((60, 60, 80), 60, (-2.3263 + 0) / 2),  # the first two centiles printed alike
        ((60, 80, 80), 80, (0 + 2.3263) / 2),
    ],
)
def test_centiles_printed_alike_stand_at_their_mean_score(
    values: tuple[float, ...], value: float, score: float
) -> None:
    curve = CentileCurve.through((1, 50, 99), values)

    assert curve.score(value) == pytest.approx(score, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(values=st.lists(st.integers(1, 30), min_size=7, max_size=7))
def test_ties_anywhere_leave_a_curve_that_rises(values: list[int]) -> None:
    rising = tuple(sorted(values))
    assume(len(set(rising)) > 1)
    curve = CentileCurve.through(PRINTED, rising)

    scores = [curve.score(value / 4) for value in range(140)]
    assert scores == sorted(scores)
    assert all(curve.score(curve.value_at(c)) == pytest.approx(curve_score(c)) for c in PRINTED)


def curve_score(centile: float) -> float:
    """The standard normal score, by a straight curve through the origin."""
    return CentileCurve.through((50, 84.1344746), (0, 1)).value_at(centile)


@pytest.mark.parametrize("values", [(5, 5, 5), (5, 4, 6), (6, 5, 5)])
def test_values_that_do_not_rise_make_no_curve(values: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="rising"):
        CentileCurve.through((1, 50, 99), values)


@pytest.mark.parametrize(
    ("age", "band"),
    [
        (BIRTH, "Birth"),
        (days(1), "0-3 mo"),
        (months(3), "3-6 mo"),
        (months(216), None),
        (years(15), "15-18 y"),
    ],
)
def test_a_band_holds_its_start_and_not_its_end(age: Age, band: str | None) -> None:
    row = TABLE.at("heart-rate", age)

    assert (row.band if row else None) == band


def test_respiratory_rate_has_no_row_of_its_own_at_birth() -> None:
    row = TABLE.at("respiratory-rate", BIRTH)

    assert row is not None
    assert row.band == "0-3 mo"


def _own(*vital_signs: str) -> CentileTable:
    rows = tuple(
        CentileRow(name, "all", AgeSpan(BIRTH, None), (1, 99), (1, 2)) for name in vital_signs
    )
    return CentileTable("own", "own table", rows)


@pytest.mark.parametrize(
    ("own", "vital_sign", "source", "name"),
    [
        (None, "heart-rate", TABLE.source, "heart-rate"),
        (None, "pulse-rate", TABLE.source, "heart-rate"),
        (None, "airway-respiratory-rate", TABLE.source, "respiratory-rate"),
        (_own("heart-rate"), "heart-rate", "own", "heart-rate"),
        (_own("heart-rate"), "respiratory-rate", TABLE.source, "respiratory-rate"),
        (_own("pulse-rate"), "pulse-rate", "own", "pulse-rate"),
        (_own("pulse-rate"), "heart-rate", TABLE.source, "heart-rate"),
        (_own("spo2"), "spo2", "own", "spo2"),
    ],
)
def test_an_own_table_replaces_the_published_one_for_what_it_holds(
    own: CentileTable | None, vital_sign: str, source: str, name: str
) -> None:
    references: References = with_own_table(own)

    table = references.table_for(vital_sign)

    assert table is not None
    assert table.source == source
    assert references.named_in(table, vital_sign) == name


def test_no_table_speaks_for_what_none_holds() -> None:
    assert PUBLISHED.table_for("spo2") is None
    assert PUBLISHED.table_for("nibp-mean") is None
