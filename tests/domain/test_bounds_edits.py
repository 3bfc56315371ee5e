from typing import Any

import pytest

from app.domain.bounds_edits import (
    mark_of,
    row_marked,
    with_bound,
    with_changed_bound,
    without_bound,
)
from app.domain.errors import NotFound, Refused
from app.domain.outer_bounds import OuterBound, OuterBounds, bound


def row(formula: str = "180", **instead: Any) -> OuterBound:
    wanted: dict[str, Any] = {
        "quantity": "heart-rate",
        "ages": ("1 y", "5 y"),
        "side": "high",
        "grade": "danger",
        "status": "J",
        "source": "our board",
    }
    return bound(formula=formula, **(wanted | instead))


LOW, HIGH, BREATHS = row("60", side="low"), row(), row("60", quantity="respiratory-rate")
BOUNDS = OuterBounds("draft", (LOW, HIGH, BREATHS))


@pytest.mark.parametrize(
    "instead",
    [
        {"formula": "181"},
        {"formula": "180 + 1 * age_years"},
        {"ages": ("1 y", "6 y")},
        {"ages": ("1 y", None)},
        {"side": "low"},
        {"grade": "caution"},
        {"when": "paced"},
        {"status": "M"},
        {"source": "their board"},
        {"quantity": "spo2"},
    ],
)
def test_a_row_that_says_anything_else_has_another_mark(instead: dict[str, Any]) -> None:
    assert mark_of(row(**instead)) != mark_of(HIGH) == mark_of(row())


def test_a_new_bound_stands_behind_its_like() -> None:
    new = row("170", grade="caution")

    assert with_bound(BOUNDS, new).rows == (LOW, HIGH, new, BREATHS)


def test_a_bound_of_a_new_kind_stands_last() -> None:
    new = row("88", quantity="spo2", side="low")

    assert with_bound(BOUNDS, new).rows == (LOW, HIGH, BREATHS, new)


def test_a_bound_is_changed_in_its_place() -> None:
    assert with_changed_bound(BOUNDS, mark_of(HIGH), row("170")).rows == (LOW, row("170"), BREATHS)


def test_a_bound_saved_as_it_was_stays() -> None:
    assert with_changed_bound(BOUNDS, mark_of(HIGH), HIGH) == BOUNDS


def test_no_bound_stands_twice() -> None:
    with pytest.raises(Refused, match="stands already"):
        with_bound(BOUNDS, row())
    with pytest.raises(Refused, match="stands already"):
        with_changed_bound(BOUNDS, mark_of(LOW), row())


def test_a_bound_is_removed_and_the_last_one_stays() -> None:
    assert without_bound(BOUNDS, mark_of(HIGH)).rows == (LOW, BREATHS)
    with pytest.raises(Refused, match="the last bound"):
        without_bound(OuterBounds("draft", (HIGH,)), mark_of(HIGH))


def test_a_row_that_was_changed_meanwhile_is_not_found() -> None:
    with pytest.raises(NotFound):
        row_marked(BOUNDS, mark_of(row("170")))
