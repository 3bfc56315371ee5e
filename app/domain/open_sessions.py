"""Where somebody is signed in: what they see of it, so that they can end what is not theirs."""

from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class OpenSession:
    """`here`: the one from which it is asked. No device and no address is kept with it."""

    id: int
    began_at: datetime
    seen_at: datetime
    expires_at: datetime
    here: bool

    def ends_at(self, idle: timedelta) -> datetime:
        """If nothing more is asked for in it."""
        return min(self.expires_at, self.seen_at + idle)
