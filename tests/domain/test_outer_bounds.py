from fractions import Fraction

import pytest

from app.domain.ages import Age, months, years
from app.domain.alarm_conditions import Side
from app.domain.outer_bounds import OuterBounds, bound, read_formula


@pytest.mark.parametrize(
    ("text", "base", "per_year"),
    [
        ("90", 90, 0),
        (" 90 ", 90, 0),
        ("36.5", Fraction("36.5"), 0),
        ("70 + 2 * age_years", 70, 2),
        ("70.5 + 0.25 * age_years", Fraction("70.5"), Fraction("0.25")),
    ],
)
def test_a_formula_is_read_as_base_and_per_year(
    text: str, base: Fraction, per_year: Fraction
) -> None:
    assert read_formula(text) == (base, per_year)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "-1",
        "1e3",
        "70+2*age_years",
        "70 + 2 * age_months",
        "70 - 2 * age_years",
        "2 * age_years",
        "70 + 2 * age_years + 1",
        "__import__('os')",
        "٧٠",
        "9" * 400,
        "NaN",
    ],
)
def test_anything_else_is_no_formula_and_is_never_evaluated(text: str) -> None:
    with pytest.raises(ValueError, match="must be a number"):
        read_formula(text)


@pytest.mark.parametrize(
    ("age", "value"),
    [(years(1), 72), (months(30), 75), (years(5), 80), (Age(Fraction(0)), 70)],
)
def test_a_moving_bound_moves_with_age(age: Age, value: int) -> None:
    moving = bound(
        "nibp-systolic", ("1 y", "10 y"), "low", "70 + 2 * age_years", "caution", "S", "x"
    )

    assert moving.at(age) == value
    assert moving.age_reaching(Fraction(value)) == age
    assert str(moving) == "70 + 2 per year of age"
    assert moving.shown_in("mmHg") == "70 mmHg + 2 per year of age"


def test_a_fixed_bound_passes_nothing() -> None:
    assert (
        bound("spo2", ("0 d", None), "low", "90", "danger", "J", "x").age_reaching(Fraction(90))
        is None
    )


@pytest.mark.parametrize(
    ("side", "limit", "other", "stricter"),
    [
        ("low", "60", "59", True),
        ("low", "60", "60", False),
        ("low", "60", "61", False),
        ("high", "60", "61", True),
        ("high", "60", "60", False),
        ("high", "60", "59", False),
    ],
)
def test_the_stricter_bound_sounds_earlier(
    side: Side, limit: str, other: str, stricter: bool
) -> None:
    one, two = (
        bound("heart-rate", ("0 d", None), side, text, "danger", "J", "x")
        for text in (limit, other)
    )

    assert one.stricter_than(two, years(1)) is stricter


@pytest.mark.parametrize(
    ("age", "held"), [("1 y", ["60"]), ("4 y", ["60"]), ("5 y", ["55"]), ("364 d", [])]
)
def test_a_bound_is_in_force_from_its_start_to_just_before_its_end(
    age: str, held: list[str]
) -> None:
    bounds = OuterBounds(
        "own",
        (
            bound("heart-rate", ("1 y", "5 y"), "low", "60", "danger", "J", "x"),
            bound("heart-rate", ("5 y", None), "low", "55", "danger", "J", "x"),
        ),
    )

    found = bounds.in_force_at("heart-rate", "low", Age.parse(age))

    assert list(map(str, found)) == held


@pytest.mark.parametrize(
    ("circumstance", "held"),
    [(None, ["80"]), ("paced", ["80"]), ("on-oxygen", ["75"]), ("brain-injury", ["95", "80"])],
)
def test_a_circumstance_sets_only_stricter_ordinary_bounds_aside(
    circumstance: str | None, held: list[str]
) -> None:
    ages = ("0 d", None)
    bounds = OuterBounds(
        "own",
        (
            bound("spo2", ages, "low", "80", "danger", "J", "x"),
            bound("spo2", ages, "low", "75", "danger", "J", "x", when="on-oxygen"),
            bound("spo2", ages, "low", "95", "caution", "J", "x", when="brain-injury"),
        ),
    )

    found = bounds.in_force_at("spo2", "low", years(1), circumstance)

    assert list(map(str, found)) == held
