"""Work that takes too long for a request: it is asked for, waits, is done by a process of its own,
and tells what became of it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from app.domain.errors import Fault, MarchstoneError, Refused

LARGEST_AT_ONCE, LARGEST_SHEET_AT_ONCE = 2**20, 2**17
"""Bytes of a CSV, and of a spreadsheet, that are still read within the request."""
MOST_AT_ONCE = 2_000
"""Devices of a fleet that is still re-audited within the request. All are our own choice: about a
second of work."""
MOST_TRIES = 3
MOST_FAULTS = 100
LONG_WAIT = timedelta(minutes=2)
"""After which nobody seems to be working."""


class WorkKind(StrEnum):
    LOOK = "look-at-readings"
    TAKE_IN = "take-in-readings"
    REAUDIT = "re-audit"

    @property
    def words(self) -> str:
        return {
            "look-at-readings": "Looking at a file of readings",
            "take-in-readings": "Taking in a file of readings",
            "re-audit": "Re-audit",
        }[self]

    @property
    def private(self) -> bool:
        """Whether only who asked for it may see it."""
        return self is WorkKind.LOOK


class WorkState(StrEnum):
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"

    @property
    def over(self) -> bool:
        return self in (WorkState.DONE, WorkState.FAILED)


@dataclass(frozen=True)
class Failure:
    """Why nothing of it was done."""

    message: str
    faults: tuple[Fault, ...] = ()

    @classmethod
    def of(cls, error: MarchstoneError) -> "Failure":
        if isinstance(error, Refused):
            return cls(f"{error.title}.", error.faults[:MOST_FAULTS])
        return cls(error.message)


INTERRUPTED = Failure(
    f"It was interrupted {MOST_TRIES} times, so it is not tried again. Nothing of it was stored."
)
BROKEN = Failure("It failed for a reason that the service’s log tells. Nothing of it was stored.")


@dataclass(frozen=True)
class LongWork:
    """`about`: what was asked; `outcome`: what came of it, once it is done. `tries`: how often
    somebody began it."""

    id: int
    agency_id: int
    asked_by: int
    by_name: str
    kind: WorkKind
    about: dict[str, Any]
    state: WorkState
    tries: int
    asked_at: datetime
    began_at: datetime | None = None
    ended_at: datetime | None = None
    outcome: dict[str, Any] | None = None
    failure: Failure | None = None

    def nobody_works(self, now: datetime) -> bool:
        return self.state is WorkState.WAITING and now - self.asked_at > LONG_WAIT
