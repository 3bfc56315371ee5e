"""A finding that the medical director accepts as it is, until the end of a day and no longer.

Nothing has to run for it to end: whoever looks after that day finds it open again.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.domain.errors import Refused

LONGEST_DAYS = 366
"""Common practice: what stays longer is a matter for the policy itself."""


@dataclass(frozen=True)
class Acceptance:
    """`until`: the last day on which it holds, in the agency's zone; `ends_at`: that day's end."""

    by: str
    at: datetime
    until: date
    ends_at: datetime
    reason: str

    def stands(self, now: datetime) -> bool:
        return now < self.ends_at


def check_until(until: date, *, today: date) -> None:
    if until < today:
        raise Refused.because("choose today or a later day", column="until")
    if until > today + timedelta(days=LONGEST_DAYS):
        raise Refused.because(f"choose a day within {LONGEST_DAYS} days", column="until")


def end_of(until: date, zone: str) -> datetime:
    """Midnight after that day; `zone` is an IANA name."""
    return datetime.combine(until + timedelta(days=1), time(), ZoneInfo(zone))
