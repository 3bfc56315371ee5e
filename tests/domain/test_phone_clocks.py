from datetime import UTC, datetime, timedelta

import pytest

from app.domain.errors import Refused
from app.domain.phone_clocks import LONGEST_KEPT, SET_BACK, PhoneClock, skew_words

CAME = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


def clock(ahead: timedelta, waited: timedelta) -> PhoneClock:
    """Of a phone that is so far ahead, and kept something so long."""
    return PhoneClock(CAME + ahead - waited, CAME + ahead)


@pytest.mark.parametrize("ahead", [-400 * DAY, -3 * HOUR, timedelta(), 3 * HOUR, 400 * DAY])
@pytest.mark.parametrize("waited", [timedelta(), MINUTE, 7 * HOUR, LONGEST_KEPT])
def test_however_wrong_the_clock_what_passed_on_it_is_right(
    ahead: timedelta, waited: timedelta
) -> None:
    found = clock(ahead, waited)

    assert found.corrected(CAME) == CAME - waited
    assert found.skew(CAME) == ahead


def test_a_clock_that_a_network_set_right_meanwhile_never_makes_a_time_to_come() -> None:
    assert clock(timedelta(), -SET_BACK).corrected(CAME) == CAME


@pytest.mark.parametrize(
    ("waited", "told"),
    [
        (-SET_BACK - timedelta(seconds=1), "went back by 10 min"),
        (-50 * HOUR, "went back by 2 days"),
        (LONGEST_KEPT + timedelta(seconds=1), "locked 31 days before it was sent"),
    ],
)
def test_where_nobody_can_tell_it_is_refused(waited: timedelta, told: str) -> None:
    with pytest.raises(Refused, match=told):
        clock(timedelta(), waited).corrected(CAME)


@pytest.mark.parametrize(
    ("skew", "words"),
    [
        (2 * MINUTE, ""),
        (-2 * MINUTE, ""),
        (3 * MINUTE, "the phone's clock was 3 min fast"),
        (-5 * HOUR, "the phone's clock was 5 hours slow"),
        (72 * HOUR, "the phone's clock was 3 days fast"),
    ],
)
def test_a_wrong_clock_is_told(skew: timedelta, words: str) -> None:
    assert skew_words(skew) == words
