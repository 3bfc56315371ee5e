"""Links by which somebody sets their own password: an administrator never knows it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

LINK_LASTS = timedelta(days=3)
"""Long enough for somebody on another shift."""


@dataclass(frozen=True)
class Invitation:
    """The newest link of a person. `username` has no password yet where it is the first one."""

    username: str
    expires_at: datetime

    def works(self, now: datetime) -> bool:
        return now < self.expires_at
