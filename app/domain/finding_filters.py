"""Which findings somebody wants to see."""

from dataclasses import dataclass
from datetime import datetime

from app.domain.finding_causes import CauseCode
from app.domain.finding_life import FindingKind, FindingStatus
from app.domain.findings import Severity

NOT_CLOSED = tuple(status for status in FindingStatus if status is not FindingStatus.CLOSED)


@dataclass(frozen=True, kw_only=True)
class FindingFilter:
    """Empty or None leaves a thing open. `look_again`: closed, and a later look is missing."""

    statuses: tuple[FindingStatus, ...] = NOT_CLOSED
    severities: tuple[Severity, ...] = tuple(Severity)
    kind: FindingKind | None = None
    station: str = ""
    device: str = ""
    model: str = ""
    alarm: str = ""
    owner: int | None = None
    cause: CauseCode | None = None
    overdue: bool = False
    accepted: bool = False
    quarantined: bool = False
    look_again: bool = False
    opened_since: datetime | None = None
