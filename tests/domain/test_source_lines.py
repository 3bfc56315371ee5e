from itertools import combinations

import pytest

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.corridor import Lane, corridor
from app.domain.corridor_shapes import HEIGHT, WIDTH
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.source_lines import SourceLine, lettered_voices, source_lines
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def lane(vital_sign: str = "heart-rate") -> Lane:
    document = five_categories()
    document["settings"]["adult"]["pulse-rate-low"] = on(45)
    return corridor(profile_from_document(document)).lane(vital_sign)


def letter_of(name: str) -> str:
    return next(v.letter for v in lettered_voices(DEFAULT_BOUNDS) if v.voice.name == name)


def lines(name: str, drawn: Lane, side: str) -> list[SourceLine]:
    found = source_lines(drawn, DEFAULT_BOUNDS)
    return [line for line in found if (line.letter, line.side) == (letter_of(name), side)]


def at(age: str) -> float:
    return round(x_of(Age.parse(age)) * WIDTH, 1)


def test_a_source_is_a_line_that_steps_where_its_rows_do() -> None:
    """National PEWS 2023 scores 4 below 80 up to 1 y, 60 from 1 to 13 y, 50 from 13 to 19 y."""
    drawn = lane()

    (low,) = lines("National PEWS 2023", drawn, "low")

    y = drawn.scale.y_of
    assert [(point.x, point.y) for point in low.line] == [
        (0, y(80)),
        (at("1 y"), y(80)),
        (at("1 y"), y(60)),
        (at("5 y"), y(60)),
        (at("5 y"), y(60)),
        (at("13 y"), y(60)),
        (at("13 y"), y(50)),
        (at("19 y"), y(50)),
    ]


def test_a_line_ends_where_its_source_falls_silent() -> None:
    """NEWS2 speaks from 16 years on."""
    (low,) = lines("NEWS2 2017", lane(), "low")

    assert (low.line[0].x, low.line[-1].x) == (at("16 y"), WIDTH)


def test_a_bound_that_moves_with_age_is_drawn_aslant() -> None:
    """AHA PALS hypotension: 72 at 1 year, 90 at 10 years."""
    drawn = lane("nibp-systolic")

    low = lines("PALS hypotension", drawn, "low")[-1]  # newborns end at 28 d, infants begin at 1 mo

    ends = {(point.x, point.y) for point in low.line}
    assert {(at("1 y"), drawn.scale.y_of(72)), (at("10 y"), drawn.scale.y_of(90))} <= ends


def test_another_sensor_of_the_same_thing_shows_the_same_sources() -> None:
    heart, pulse = (source_lines(lane(key), DEFAULT_BOUNDS) for key in ("heart-rate", "pulse-rate"))

    assert [line.line for line in heart] == [line.line for line in pulse]


@pytest.mark.parametrize("vital_sign", ["heart-rate", "respiratory-rate", "nibp-systolic", "spo2"])
def test_letters_stand_inside_the_lane_and_on_no_number_or_other_letter(vital_sign: str) -> None:
    drawn = lane(vital_sign)

    letters = [line.label for line in source_lines(drawn, DEFAULT_BOUNDS) if line.label]
    numbers = [wall.label for wall in drawn.walls if wall.label]

    assert letters
    assert all(0 <= p.x <= WIDTH and 0 < p.y < HEIGHT for p in letters)
    for one, other in combinations(letters + numbers, 2):
        if one not in numbers:
            assert abs(one.x - other.x) > 15 or abs(one.y - other.y) > 12


def test_every_source_of_a_lane_has_its_letter_somewhere() -> None:
    found = source_lines(lane(), DEFAULT_BOUNDS)

    assert {line.letter for line in found} == {line.letter for line in found if line.label}


def test_the_agencys_own_bounds_stand_in_place_of_the_default() -> None:
    own = OuterBounds(
        "version 2", (bound("heart-rate", ("0 d", None), "low", "55", "danger", "J", "agreed"),)
    )

    names = [one.voice.name for one in lettered_voices(own)]

    assert "Outer bound, danger" in names
    assert not any(name.startswith("Default bound") for name in names)
    assert "Outer bound, caution" not in names
