"""A device that was off too briefly still shows what a crew had set for the last patient."""

from decimal import Decimal

import pytest

from app.domain.device_reports import StateRead
from app.domain.power_pauses import Pause, counts, pause_before, pause_words

TWO = Decimal(2)
POWER_ON, AFTER, IN_USE, STORED = (
    StateRead.POWER_ON,
    StateRead.AFTER_CATEGORY,
    StateRead.IN_USE,
    StateRead.STORED_PRESET,
)


@pytest.mark.parametrize(
    ("state", "minutes_off", "retention", "pause", "counting"),
    [
        (POWER_ON, 0, TWO, Pause.TOO_SHORT, False),
        (POWER_ON, 1, TWO, Pause.TOO_SHORT, False),
        (POWER_ON, 2, TWO, Pause.TOO_SHORT, False),  # not longer than it
        (POWER_ON, 3, TWO, Pause.LONG_ENOUGH, True),
        (POWER_ON, 2, Decimal("1.5"), Pause.LONG_ENOUGH, True),
        (POWER_ON, 1, Decimal("1.5"), Pause.TOO_SHORT, False),
        (POWER_ON, 0, Decimal(0), Pause.TOO_SHORT, False),
        (POWER_ON, 1, Decimal(0), Pause.LONG_ENOUGH, True),
        (POWER_ON, None, TWO, Pause.NOT_RECORDED, True),
        (POWER_ON, 1, None, Pause.NOT_ASKED, True),
        (POWER_ON, None, None, Pause.NOT_ASKED, True),
        # a category that was just chosen overwrites what was there
        (AFTER, 0, TWO, Pause.NOT_ASKED, True),
        (AFTER, None, TWO, Pause.NOT_ASKED, True),
        (IN_USE, 10, TWO, Pause.NOT_ASKED, False),
        (STORED, 10, TWO, Pause.NOT_ASKED, False),
    ],
)
def test_only_power_on_after_a_longer_pause_counts(
    state: StateRead,
    minutes_off: int | None,
    retention: Decimal | None,
    pause: Pause,
    counting: bool,
) -> None:
    assert pause_before(state, minutes_off, retention) is pause
    assert counts(state, minutes_off, retention) is counting


@pytest.mark.parametrize(
    ("minutes_off", "words"),
    [
        (None, "minutes off not recorded"),
        (3, ""),
        (
            2,
            "off for only 2 min, and this model keeps what a crew changed for 2 min: "
            "it does not count",
        ),
    ],
)
def test_it_is_told_in_words(minutes_off: int | None, words: str) -> None:
    assert pause_words(POWER_ON, minutes_off, TWO) == words
