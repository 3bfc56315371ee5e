"""How long somebody waits after failed sign-ins, or more drills than anybody needs (common
practice; there is no published rule).

The wait grows and is capped, so that guessing is hopeless while nobody can lock another out for
good by failing in their name.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

FREE_PER_ACCOUNT = 5
FREE_PER_ADDRESS = 20
"""Higher, because a whole station may stand behind one address."""
FREE_PER_CREW_CODE = 50
"""Higher still: everybody of the agency types the same one, and phones that know it go on."""
FREE_DRILLS = 20
FREE_DRILLS_PER_ADDRESS = 200
"""A whole class may stand behind one address."""
MOST_DRILLS_A_DAY = 2_000
"""Of an agency. All are our own choice: far more than anybody practises, and no more than the
database takes in a second or two."""
LONGEST_WAIT = timedelta(minutes=15)
FORGOTTEN_AFTER = timedelta(hours=1)


@dataclass(frozen=True)
class Failures:
    count: int
    last_at: datetime

    def wait(self, *, free: int) -> timedelta:
        """Nothing for the first `free` failures, then 1 s, 2 s, 4 s … after the last one."""
        if self.count < free:
            return timedelta()
        doublings = min(self.count - free, 10)
        return min(timedelta(seconds=2**doublings), LONGEST_WAIT)

    def remaining(self, now: datetime, *, free: int) -> timedelta:
        if now - self.last_at >= FORGOTTEN_AFTER:
            return timedelta()
        return max(self.last_at + self.wait(free=free) - now, timedelta())
