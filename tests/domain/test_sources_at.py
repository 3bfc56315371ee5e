import pytest

from app.domain.ages import Age
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.sources_at import SourcesAt, sources_at
from app.domain.vital_signs import VITAL_SIGNS


def at(age: str, *vital_signs: str) -> list[SourcesAt]:
    return sources_at(vital_signs or VITAL_SIGNS, Age.parse(age), DEFAULT_BOUNDS)


@pytest.mark.parametrize(
    ("age", "said"),
    [
        # Fleming 2011, 18-24 mo: 82 to 149; PEWS from 1 y: 60 and 170; PALS, 1-2 y: 80 to 140
        (
            "23 mo",
            {
                "Healthy children (Fleming 2011)": ("82", "149"),
                "PALS normal range": ("80", "140"),
                "National PEWS 2023": ("60", "170"),
                "Default bound, caution": (None, "170"),
                "Default bound, danger": ("60", "180"),
            },
        ),
        # DeVita and Bellomo; NEWS2 scores 3 at 40 and below and from 131
        (
            "40 y",
            {
                "NEWS2 2017": ("41", "131"),
                "Medical emergency team": ("40", "130"),
                "Default bound, caution": (None, "130"),
                "Default bound, danger": ("40", "150"),
            },
        ),
    ],
)
def test_what_each_source_says_at_an_age(
    age: str, said: dict[str, tuple[str | None, str | None]]
) -> None:
    (found,) = at(age, "heart-rate")

    assert {
        one.by.voice.name: (one.low and str(one.low), one.high and str(one.high))
        for one in found.said
    } == said


def test_how_far_they_lie_apart_is_said_in_words() -> None:
    (heart,) = at("23 mo", "heart-rate")

    assert heart.words == (
        "the lows differ by up to 22 /min, from 60 to 82; "
        "the highs differ by up to 40 /min, from 140 to 180"
    )


def test_where_only_one_speaks_nothing_is_compared() -> None:
    (gas,) = at("3 y", "etco2")

    assert gas.words == "no two sources speak of the same end"


def test_where_all_agree_it_says_so() -> None:
    """Phoenix 2024 and the danger bound that rests on it, in adolescents of 13 years: 38."""
    (mean,) = at("13 y", "nibp-mean")

    assert "differ by up to" in mean.words
    assert at("20 y", "nibp-mean")[0].words == "no two sources speak of the same end"


def test_signs_that_repeat_each_other_are_told_once() -> None:
    (one,) = at("3 y", "heart-rate", "pulse-rate")

    assert one.label == "Heart rate, Pulse rate"


def test_a_sign_of_which_no_source_speaks_is_left_out() -> None:
    assert at("3 y", "inspired-co2") == []


@pytest.mark.parametrize(("age", "low"), [("12 mo", "72"), ("5 y", "80"), ("10 y", "90")])
def test_a_bound_that_moves_is_told_for_this_age(age: str, low: str) -> None:
    """AHA PALS hypotension: 70 + 2 × age from 1 to 10 years, then 90."""
    (systolic,) = at(age, "nibp-systolic")

    said = next(one for one in systolic.said if one.by.voice.name == "PALS hypotension")
    assert str(said.low) == low
