"""For how long a setting may have been astray: since somebody last saw it right."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.local_days import day_words, local_day


@dataclass(frozen=True)
class Exposure:
    """`since`: the last reading that conformed before it was found, None: there is none.

    `until`: when patients were kept away from it; None: it goes on.
    """

    found_at: datetime
    since: datetime | None = None
    report: int | None = None
    until: datetime | None = None

    def days(self, now: datetime) -> int | None:
        """Begun days. None: nobody knows since when."""
        if self.since is None:
            return None
        lasted = (self.until or now) - self.since
        return max(1, -(-lasted // _DAY))

    def words(self, now: datetime, zone: str) -> str:
        end = "and it goes on" if self.until is None else f"until {_day(self.until, zone)}"
        if self.since is None:
            found = _day(self.found_at, zone)
            return f"It was never read right before {found}: nobody knows since when, {end}."
        days = self.days(now)
        count = "1 day" if days == 1 else f"{days} days"
        return f"Nobody knows since {_day(self.since, zone)}, {end}: {count}."


_DAY = timedelta(days=1)


def _day(at: datetime, zone: str) -> str:
    return day_words(local_day(at, zone))
