"""A device on the register."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from app.domain.errors import Refused


class RegisterStatus(StrEnum):
    IN_SERVICE = "in-service"
    SPARE = "spare"
    AWAY = "away-for-service"
    RETIRED = "retired"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Loan:
    """`until` None: nobody has said yet when it goes back."""

    owner: str
    since: date
    until: date | None = None

    def __post_init__(self) -> None:
        if self.until is not None and self.until < self.since:
            raise Refused.because("cannot be before it came", column="loan_until")


@dataclass(frozen=True)
class Device:
    """`tag` is on its label and in its address; `model` is a key of the profile's models.

    `vehicle` may be empty: it is kept at the station. `loan` None: it is our own.
    """

    id: int
    tag: str
    model: str
    station: str
    vehicle: str = ""
    serial: str = ""
    software: str = ""
    status: RegisterStatus = RegisterStatus.IN_SERVICE
    loan: Loan | None = None
    note: str = ""

    @property
    def retired(self) -> bool:
        return self.status is RegisterStatus.RETIRED

    @property
    def place(self) -> str:
        return f"{self.station}, {self.vehicle}" if self.vehicle else self.station
