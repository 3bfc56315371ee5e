"""Devices that may have strayed for the same reason as one that was found astray."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Tie(StrEnum):
    SOFTWARE = "same model and software"
    STATION = "same station"
    CORRECTOR = "last corrected by the same person"
    READER = "found right by the same person on the same day"


@dataclass(frozen=True)
class Sibling:
    """Not read since the finding was made. `last_read_at` None: never."""

    device: str
    station: str
    model: str
    last_read_at: datetime | None
    ties: tuple[Tie, ...]
