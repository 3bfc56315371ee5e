"""Recordings of trends that an agency keeps to replay its drafts against."""

from dataclasses import dataclass
from datetime import datetime

MOST_SAMPLES = 20_000_000
"""Rows times vital signs of one recording in the library; the command takes any length."""
LONGEST_NAME = 80
LONGEST_ORIGIN = 500


@dataclass(frozen=True)
class NewRecording:
    """`synthetic` says how it was invented, and is empty for a real one."""

    name: str
    category: str
    origin: str
    synthetic: str = ""


@dataclass(frozen=True)
class Recording:
    """Without its trends. `fingerprint` is of them alone."""

    id: int
    number: int
    name: str
    category: str
    origin: str
    synthetic: str
    fingerprint: str
    patients: int
    rows: int
    step_s: int
    vital_signs: tuple[str, ...]
    added_at: datetime
    added_by: str

    @property
    def hours(self) -> float:
        return self.rows * self.step_s / 3600
