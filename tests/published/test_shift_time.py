"""A whole shift check takes no more than 90 seconds, by published times of its parts.

The bound is common practice and our aim; nobody has published how long crews accept.
"""

import pytest

from app.domain.agency_choices import AT_SHIFT
from app.domain.shift_questions import QUESTIONS
from tests.published.keystrokes import Work, shift_check

LONGEST_S = 90
USUAL = ["75", "170", "90", "off", "15", "20"]
ALL_ON = ["75", "170", "90", "100", "15", "20"]


def test_it_is_what_an_agency_asks_that_chose_nothing_else() -> None:
    assert len(USUAL) == len(ALL_ON) == len(AT_SHIFT)


@pytest.mark.parametrize("values", [USUAL, ALL_ON])
@pytest.mark.parametrize("who", [False, True])
def test_a_whole_check_is_within_ninety_seconds(values: list[str], who: bool) -> None:
    assert shift_check(values, len(QUESTIONS), who=who).seconds <= LONGEST_S


def test_half_as_many_alarms_again_would_be_too_many() -> None:
    """So the bound can be missed: an agency that asks more is told in the manual."""
    assert shift_check(USUAL + USUAL, len(QUESTIONS)).seconds > LONGEST_S


def test_the_parts_add_up_as_the_paper_does() -> None:
    assert Work(keys=2, choices=1, units=1, looks=0).seconds == pytest.approx(
        2 * 0.50 + 1.10 + 0.28 + 1.35
    )
