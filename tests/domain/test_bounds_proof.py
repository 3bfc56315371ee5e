"""What bounds leave uncovered, where several stand at once, and which one then judges."""

import pytest

from app.domain.bounds_proof import bounds_proof, side_proof
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBound, OuterBounds, bound


def row(
    ages: tuple[str, str | None], value: str, grade: str = "danger", side: str = "low"
) -> OuterBound:
    return bound("heart-rate", ages, side, value, grade, "J", "our board")  # type: ignore[arg-type]


def own(*rows: OuterBound) -> OuterBounds:
    return OuterBounds("own", rows)


WHOLE = row(("0 d", None), "60")


def test_bounds_that_meet_cover_every_age_once() -> None:
    found = side_proof(
        own(row(("0 d", "1 y"), "80"), row(("1 y", None), "60")), "heart-rate", "low"
    )

    assert found.faults == ()
    assert found.shared == ()


@pytest.mark.parametrize(
    ("rows", "faults"),
    [
        (
            [row(("0 d", "1 y"), "80"), row(("13 mo", None), "60")],
            ["1 y to 13 mo: nothing is too low: no bound stands."],
        ),
        (
            [row(("28 d", None), "80")],
            ["0 d to 28 d: nothing is too low: no bound stands."],
        ),
        (
            [row(("0 d", "16 y"), "80")],
            ["16 y and over: nothing is too low: no bound stands."],
        ),
        (
            [row(("0 d", "16 y"), "80"), row(("5 y", None), "90", "caution")],
            ["16 y and over: no bound of danger, only of caution."],
        ),
        (
            [row(("1 y", "16 y"), "80"), row(("5 y", "18 y"), "90", "caution")],
            [
                "0 d to 1 y: nothing is too low: no bound stands.",
                "18 y and over: nothing is too low: no bound stands.",
                "16 y to 18 y: no bound of danger, only of caution.",
            ],
        ),
        (
            [WHOLE, row(("1 y", "5 y"), "59", "caution"), row(("5 y", "8 y"), "61", "caution")],
            ["1 y to 5 y: the caution lies beyond the danger and never tells."],
        ),
        ([WHOLE, row(("1 y", "5 y"), "60", "caution")], []),
    ],
)
def test_what_is_left_uncovered_is_told_by_age(rows: list[OuterBound], faults: list[str]) -> None:
    found = side_proof(own(*rows), "heart-rate", "low")

    assert list(found.faults) == faults


def test_where_two_of_one_grade_stand_the_strictest_judges() -> None:
    both = own(WHOLE, row(("5 y", "9 y"), "70"), row(("5 y", "9 y"), "75", "caution"))

    found = side_proof(both, "heart-rate", "low")

    assert [one.words for one in found.shared] == [
        "5 y to 9 y: below 60 /min, below 70 /min are danger at once; the strictest of them judges."
    ]
    held = {one.name: (str(one.danger), str(one.caution)) for one in found.at}
    assert held["8 y"] == ("70", "75")
    assert held["16 y"] == ("60", "None")


@pytest.mark.parametrize(
    ("name", "danger"),
    [
        ("at birth", "80"),
        ("27 d", "80"),
        ("28 d", "70"),
        ("5 mo", "70"),
        ("just under 1 y", "70"),
        ("1 y", "60"),
        ("8 y", "60"),
        ("16 y", None),
        ("80 y", "40"),
    ],
)
def test_the_bound_that_governs_at_each_edge(name: str, danger: str | None) -> None:
    bounds = own(
        row(("0 d", "28 d"), "80"),
        row(("28 d", "1 y"), "70"),
        row(("1 y", "16 y"), "60"),
        row(("18 y", None), "40"),
    )

    found = side_proof(bounds, "heart-rate", "low")

    (here,) = (one for one in found.at if one.name == name)
    assert (None if here.danger is None else str(here.danger)) == danger


def test_bounds_that_leave_no_safe_value_contradict_each_other() -> None:
    crossed = own(
        WHOLE, row(("0 d", "1 y"), "60", side="high"), row(("1 y", None), "61", side="high")
    )

    assert bounds_proof(crossed).crossed == (
        "Heart rate, 0 d to 1 y: below 60 /min and above 60 /min are danger, "
        "which leaves no safe value.",
    )


def test_a_side_of_which_nothing_speaks_is_named() -> None:
    found = bounds_proof(own(WHOLE))

    assert "Heart rate high" in found.never
    assert "Pulse rate high" in found.never  # judged by the bounds of heart rate
    assert "SpO₂ low and high" in found.never
    assert not any(one.startswith("Heart rate low") for one in found.never)


def test_a_bound_under_a_circumstance_covers_nobody_else() -> None:
    special = bound("heart-rate", ("0 d", None), "low", "60", "danger", "J", "x", when="paced")

    assert bounds_proof(own(special)).sides == ()


def test_the_default_leaves_no_age_without_danger_where_it_claims_none() -> None:
    faulty = {(one.label, one.side) for one in bounds_proof(DEFAULT_BOUNDS).sides if one.faults}

    assert faulty == {("NIBP mean", "low"), ("EtCO₂", "high"), ("Temperature", "low")}
    assert bounds_proof(DEFAULT_BOUNDS).crossed == ()
