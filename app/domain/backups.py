"""What is known of a backup: when, of what, and where each ledger stood."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

DEED = "make a backup"
"""As it stands in the ledger of the installation."""
FORMAT = "marchstone-backup/1"
Heads = Mapping[str, tuple[int, str]]
"""Of each chain: how many entries, and the hash of the last."""


@dataclass(frozen=True)
class Backup:
    """`agency`: the only one in it, None for the whole installation."""

    taken_at: datetime
    program: str
    schema: str
    heads: Heads
    agency: str | None = None
