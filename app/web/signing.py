"""What every form for a signature has: meaning, password, and from when it holds."""

from datetime import UTC, datetime
from typing import Annotated, Self
from zoneinfo import ZoneInfo

from fastapi import Request
from pydantic import BaseModel, Field

from app.domain.errors import Fault, Refused, TooMany
from app.domain.people import Person


class SigningEntry(BaseModel):
    """`when` is now or later; `begins` a local time of the agency, such as 2026-03-01T08:00."""

    fingerprint: Annotated[str, Field(max_length=64)] = ""
    meaning: Annotated[str, Field(max_length=300)] = ""
    password: Annotated[str, Field(max_length=1000)] = ""
    when: Annotated[str, Field(max_length=10)] = "now"
    begins: Annotated[str, Field(max_length=30)] = ""

    def without_password(self) -> Self:
        return self.model_copy(update={"password": ""})

    def begins_at(self, zone: str) -> datetime | None:
        """None: at once. Raises Refused."""
        if self.when != "later":
            return None
        try:
            local = datetime.fromisoformat(self.begins)
        except ValueError:
            raise Refused.because("give a day and a time", column="begins") from None
        return local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def zone_of(request: Request, person: Person) -> str:
    zone: str = request.app.state.agencies.of(person.agency).time_zone
    return zone


def beside_fields(refused: Refused | TooMany) -> tuple[Fault, ...]:
    """The faults, each named by the field it is told at."""
    told = refused.faults if isinstance(refused, Refused) else (Fault(refused.message),)
    return tuple(
        Fault(fault.reason, column="begins") if fault.column == "in_force_at" else fault
        for fault in told
    )
