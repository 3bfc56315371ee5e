"""What a list of findings is narrowed to, as it stands in an address."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Annotated, TypeVar
from urllib.parse import urlencode

from pydantic import BaseModel, Field

from app.domain.finding_causes import CauseCode
from app.domain.finding_filters import NOT_CLOSED, FindingFilter
from app.domain.finding_life import FindingKind, FindingStatus
from app.domain.findings import Severity
from app.domain.people import Person

ANY, NOT_YET, AGAIN, MINE = "any", "not-closed", "look-again", "me"
Value = TypeVar("Value", bound=StrEnum)
Text = Annotated[str, Field(max_length=200)]


class Chosen(BaseModel):
    """As typed; what makes no sense narrows nothing."""

    status: Text = NOT_YET
    severity: Text = ""
    kind: Text = ""
    station: Text = ""
    device: Text = ""
    model: Text = ""
    alarm: Text = ""
    owner: Text = ""
    cause: Text = ""
    overdue: Text = ""
    accepted: Text = ""
    quarantined: Text = ""
    opened: Text = ""
    page: Text = ""

    @property
    def number(self) -> int:
        """Of the page; what is no number is the first."""
        typed = self.page.strip()
        return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 7 else 1

    @property
    def opened_days(self) -> int | None:
        """Opened in the last so many days."""
        typed = self.opened.strip()
        whole = typed.isascii() and typed.isdigit() and len(typed) < 5
        return int(typed) if whole else None

    def wanted(self, person: Person, now: datetime) -> FindingFilter:
        days = self.opened_days
        return FindingFilter(
            statuses=self._statuses(),
            severities=_chosen(self.severity, Severity) or tuple(Severity),
            kind=next(iter(_chosen(self.kind, FindingKind)), None),
            station=self.station,
            device=self.device.strip(),
            model=self.model,
            alarm=self.alarm,
            owner=self._owner(person),
            cause=next(iter(_chosen(self.cause, CauseCode)), None),
            overdue=bool(self.overdue),
            accepted=bool(self.accepted),
            quarantined=bool(self.quarantined),
            look_again=self.status == AGAIN,
            opened_since=None if days is None else now - timedelta(days=days),
        )

    def _statuses(self) -> tuple[FindingStatus, ...]:
        if self.status == AGAIN:
            return (FindingStatus.CLOSED,)
        if self.status == ANY:
            return tuple(FindingStatus)
        return _chosen(self.status, FindingStatus) or NOT_CLOSED

    def _owner(self, person: Person) -> int | None:
        if self.owner == MINE:
            return person.id
        number = self.owner
        return int(number) if number.isascii() and number.isdigit() and len(number) < 10 else None

    def query(self, **other: str) -> str:
        """For a link to the same list with something else."""
        kept = {name: value for name, value in self._told() if value}
        return urlencode(kept | {name: value for name, value in other.items() if value})

    def _told(self) -> Iterator[tuple[str, str]]:
        for name, value in self.model_dump().items():
            if name != "page" and (name, value) != ("status", NOT_YET):
                yield name, value


def _chosen(typed: str, among: type[Value]) -> tuple[Value, ...]:
    return tuple(one for one in among if one.value == typed)
