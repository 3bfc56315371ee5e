"""Was a device off for long enough to have forgotten what a crew changed for the last patient?

A model keeps such changes for its tested retention time. Switched on again within it, a device
shows what somebody set by hand, not what it holds for the next patient.
"""

from decimal import Decimal
from enum import StrEnum

from app.domain.device_reports import StateRead
from app.domain.settings_of_alarms import show_number


class Pause(StrEnum):
    """`NOT_ASKED`: the state is not power-on, or nobody has tested the model's retention time."""

    NOT_ASKED = "not-asked"
    LONG_ENOUGH = "long-enough"
    TOO_SHORT = "too-short"
    NOT_RECORDED = "not-recorded"


def pause_before(
    state_read: StateRead, minutes_off: int | None, retention_min: Decimal | None
) -> Pause:
    """Off for exactly the retention time is not longer than it, so it is too short."""
    if state_read is not StateRead.POWER_ON or retention_min is None:
        return Pause.NOT_ASKED
    if minutes_off is None:
        return Pause.NOT_RECORDED
    return Pause.LONG_ENOUGH if minutes_off > retention_min else Pause.TOO_SHORT


def counts(state_read: StateRead, minutes_off: int | None, retention_min: Decimal | None) -> bool:
    """Whether a reading says what the device holds for the next patient."""
    pause = pause_before(state_read, minutes_off, retention_min)
    return state_read.counts and pause is not Pause.TOO_SHORT


def pause_words(
    state_read: StateRead, minutes_off: int | None, retention_min: Decimal | None
) -> str:
    """What whoever reads the report should know of the pause; empty where there is nothing."""
    pause = pause_before(state_read, minutes_off, retention_min)
    if pause is Pause.NOT_RECORDED:
        return "minutes off not recorded"
    if pause is Pause.TOO_SHORT and minutes_off is not None and retention_min is not None:
        return (
            f"off for only {minutes_off} min, and this model keeps what a crew changed "
            f"for {show_number(retention_min)} min: it does not count"
        )
    return ""
