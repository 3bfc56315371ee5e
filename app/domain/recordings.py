"""Recordings of trends that an agency keeps to replay its drafts against."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.domain.errors import Refused

MOST_SAMPLES = 20_000_000
"""Rows times vital signs of one recording in the library; the command takes any length."""
LONGEST_NAME = 80
LONGEST_ORIGIN = 500


def check_size(rows: int, vital_signs: int) -> None:
    """Raises Refused where the library has no room for as much."""
    if rows * vital_signs > MOST_SAMPLES:
        raise Refused.because(
            f"holds more than {MOST_SAMPLES:,} samples, which is what the library takes: split "
            "the file, or use the command `marchstone replay`",
            column="file",
        )


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


def to_replay(kept: Iterable[Recording]) -> tuple[Recording, ...]:
    """Invented patients only where there is no real one: the two are never mixed."""
    every = tuple(kept)
    return tuple(one for one in every if not one.synthetic) or every
