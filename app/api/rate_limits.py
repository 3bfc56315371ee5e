"""How often a program may ask: so many requests in each minute of the clock.

Counted in the memory of this process: where several serve, each allows as many.
"""

from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock

from app.domain.errors import TooMany

MOST_A_MINUTE = 120
_WINDOW = 60  # seconds


@dataclass
class RateLimits:
    most: int = MOST_A_MINUTE
    _minute: int = 0
    _counts: dict[int, int] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def count(self, token_id: int, now: datetime) -> None:
        """Raises TooMany with the seconds until the next minute."""
        seconds = int(now.timestamp())
        with self._lock:
            if seconds // _WINDOW != self._minute:
                self._minute, self._counts = seconds // _WINDOW, {}
            asked = self._counts[token_id] = self._counts.get(token_id, 0) + 1
        if asked > self.most:
            wait = _WINDOW - seconds % _WINDOW
            raise TooMany(
                f"A token may ask {self.most} times a minute. Try again in {wait} s.", seconds=wait
            )
