"""Tokens by which programs act for an agency; the token itself is shown once and never kept."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.errors import Refused
from app.domain.people import Scope

LONGEST_DAYS = 366
RENEWED_AFTER = timedelta(minutes=1)
"""How exactly it is known when a token was used last."""


@dataclass(frozen=True)
class ApiToken:
    """`by`: the name of who gave it."""

    id: int
    name: str
    scopes: frozenset[Scope]
    by: str
    created_at: datetime
    expires_at: datetime
    last_used_at: datetime | None
    revoked_at: datetime | None

    def works(self, now: datetime) -> bool:
        return self.revoked_at is None and now < self.expires_at

    def state(self, now: datetime) -> str:
        if self.revoked_at is not None:
            return "taken back"
        return "works" if self.works(now) else "expired"


def expiry(days: int, *, now: datetime) -> datetime:
    if not 1 <= days <= LONGEST_DAYS:
        raise Refused.because(f"choose 1 to {LONGEST_DAYS} days", column="days", value=days)
    return now + timedelta(days=days)
