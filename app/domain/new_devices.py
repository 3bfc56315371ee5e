"""A device that is to be put on the register, as it was typed."""

from dataclasses import dataclass

from app.domain.devices import Loan


@dataclass(frozen=True)
class NewDevice:
    """`spare`: kept in reserve. `line`: where it stands in a list of several."""

    tag: str
    model: str
    station: str
    vehicle: str = ""
    serial: str = ""
    software: str = ""
    spare: bool = False
    loan: Loan | None = None
    note: str = ""
    line: int | None = None
