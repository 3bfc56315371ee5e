"""When was it, if only a phone knows and its clock may be wrong?

The phone tells two times by its own clock: when something was locked, and when it was sent. The
server knows when it came. As long as nobody set the phone's clock in between, the time that passed
on the phone is right however wrong its clock is.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.errors import Refused

SET_BACK = timedelta(minutes=10)
"""So much a clock may go back when a network sets it right."""
LONGEST_KEPT = timedelta(days=31)
_NOTICED = timedelta(minutes=2)


@dataclass(frozen=True)
class PhoneClock:
    """Both by the phone's own clock."""

    locked_at: datetime
    sent_at: datetime

    def skew(self, received_at: datetime) -> timedelta:
        """How far the phone's clock is ahead; the way of a message is short beside it."""
        return self.sent_at - received_at

    def corrected(self, received_at: datetime) -> datetime:
        """When it was locked, by the server's clock, never later than it came. Raises Refused
        where nobody can tell."""
        passed = self.sent_at - self.locked_at
        if passed < -SET_BACK:
            raise Refused.because(
                f"the phone's clock went back by {_in_words(-passed)} after it was locked, so "
                "nobody can tell when the device was looked at: check it again",
                column="locked_at",
            )
        if passed > LONGEST_KEPT:
            raise Refused.because(
                f"by the phone's clock it was locked {_in_words(passed)} before it was sent, and "
                f"nothing older than {LONGEST_KEPT.days} days is taken: check the device again",
                column="locked_at",
            )
        return received_at - max(passed, timedelta())


def skew_words(skew: timedelta) -> str:
    """Empty where it is too small to matter."""
    if abs(skew) <= _NOTICED:
        return ""
    return (
        f"the phone's clock was {_in_words(abs(skew))} {'fast' if skew > timedelta() else 'slow'}"
    )


def _in_words(long: timedelta) -> str:
    minutes = round(long.total_seconds() / 60)
    if minutes < 120:
        return f"{minutes} min"
    hours = round(minutes / 60)
    return f"{hours} hours" if hours < 48 else f"{round(hours / 24)} days"
