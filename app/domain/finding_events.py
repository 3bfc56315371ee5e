"""The story of a finding: every step is kept, and nothing of it is ever changed or removed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class EventKind(StrEnum):
    OPENED = "opened"
    FOUND_AGAIN = "found-again"
    REOPENED = "reopened"
    CONTAINED = "contained"
    CORRECTED = "corrected"
    VERIFIED = "verified"
    CLOSED = "closed"
    ACCEPTED = "accepted"
    ACCEPTANCE_ENDED = "acceptance-ended"
    ASSIGNED = "assigned"
    COMMENTED = "commented"
    HELD = "quarantined"
    RELEASED = "released"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


FOUND = (EventKind.OPENED, EventKind.FOUND_AGAIN, EventKind.REOPENED)


@dataclass(frozen=True)
class FindingEvent:
    """`about`: what the step named besides its note, in words. `report`: what it rests on."""

    kind: EventKind
    at: datetime
    person_id: int
    name: str
    note: str = ""
    about: str = ""
    report: int | None = None


def since_opened(events: Sequence[FindingEvent]) -> Sequence[FindingEvent]:
    """From the last time it was opened; what was done before that no longer counts."""
    starts = [
        n for n, one in enumerate(events) if one.kind in (EventKind.OPENED, EventKind.REOPENED)
    ]
    return events[starts[-1] :] if starts else events


def finding_reports(events: Iterable[FindingEvent]) -> list[int]:
    """The reports that found it, the first one first."""
    return [one.report for one in events if one.kind in FOUND and one.report is not None]
