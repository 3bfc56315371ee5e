"""What one set of outer bounds changes beside another, row by row and in its effect."""

from typing import Any

import pytest

from app.domain.bounds_changes import bounds_changes
from app.domain.comparison import Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBound, OuterBounds, bound

LOOSER, TIGHTER, OTHER = Direction.LOOSER, Direction.TIGHTER, Direction.OTHER


def row(formula: str, grade: str = "danger", **instead: Any) -> OuterBound:
    wanted: dict[str, Any] = {
        "quantity": "heart-rate",
        "ages": ("1 y", "5 y"),
        "side": "high",
        "status": "J",
        "source": "our board",
    }
    return bound(formula=formula, grade=grade, **(wanted | instead))


def told(before: list[OuterBound], after: list[OuterBound]) -> list[tuple[Direction, str]]:
    changes = bounds_changes(OuterBounds("a", tuple(before)), OuterBounds("b", tuple(after)))
    return [
        (change.lean, change.sentence.removeprefix("Heart rate, 1 y to ")) for change in changes
    ]


@pytest.mark.parametrize(
    ("side", "formula", "lean"),
    [
        ("high", "181", LOOSER),
        ("high", "179", TIGHTER),
        ("low", "181", TIGHTER),
        ("low", "179", LOOSER),
    ],
)
def test_a_bound_moved_away_is_looser_and_moved_in_is_tighter(
    side: str, formula: str, lean: Direction
) -> None:
    found = told([row("180", side=side)], [row(formula, side=side)])

    assert [one[0] for one in found] == [lean]


def test_the_same_bounds_change_nothing() -> None:
    assert bounds_changes(DEFAULT_BOUNDS, DEFAULT_BOUNDS) == []


def test_the_looser_comes_first() -> None:
    other = {"quantity": "respiratory-rate"}

    found = told([row("180"), row("60", **other)], [row("170"), row("70", **other)])

    assert [one[0] for one in found] == [LOOSER, TIGHTER]


def test_a_row_gone_is_looser_and_a_new_one_tighter() -> None:
    assert told([row("180")], []) == [
        (LOOSER, "5 y: above 180 /min is no longer danger by a row of its own.")
    ]
    assert told([], [row("180")]) == [(TIGHTER, "5 y: above 180 /min is danger now.")]


def test_a_row_that_another_one_says_already_changes_nothing() -> None:
    assert [lean for lean, _ in told([row("170")], [row("170"), row("175", "caution")])] == [OTHER]


def test_danger_instead_of_caution_is_tighter_and_back_is_looser() -> None:
    assert told([row("180", "caution")], [row("180")]) == [
        (TIGHTER, "5 y: above 180 /min is danger, and above 180 /min was caution before.")
    ]
    assert [lean for lean, _ in told([row("180")], [row("180", "caution")])] == [LOOSER]


def test_another_source_alone_changes_nothing() -> None:
    assert told([row("180")], [row("180", source="a paper")]) == [
        (OTHER, "5 y: above 180 /min stays danger; what is written as its source changes.")
    ]


def test_a_row_split_by_age_is_told_by_its_effect() -> None:
    parts = [row("180", ages=("1 y", "3 y")), row("190", ages=("3 y", "5 y"))]

    assert told([row("180")], parts) == [
        (LOOSER, "5 y: above 180 /min is no longer danger by a row of its own."),
        (LOOSER, "Heart rate, 3 y to 5 y: above 190 /min is danger now."),
        (OTHER, "3 y: above 180 /min is danger now."),
    ]


def test_a_formula_that_crosses_the_old_bound_is_looser_somewhere() -> None:
    crossing = row("178 + 1 * age_years")  # 179 at 1 y, 183 at 5 y

    assert [lean for lean, _ in told([row("180")], [crossing])] == [LOOSER]


def test_a_circumstance_may_loosen_by_a_new_row() -> None:
    """Its own bound sets the stricter ordinary one aside."""
    special = row("190", when="cardiac-arrest")

    assert told([row("180")], [row("180"), special]) == [
        (LOOSER, "5 y, cardiac arrest: above 190 /min is danger now.")
    ]


def test_a_time_is_told_in_seconds() -> None:
    (change,) = bounds_changes(
        OuterBounds("a", ()), OuterBounds("b", (row("20", quantity="apnoea"),))
    )

    assert change.sentence == "Apnoea, 1 y to 5 y: longer than 20 s is danger now."
