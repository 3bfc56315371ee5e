"""What a printed paper may be told about itself, by anybody who holds it: never a limit."""

import re
from dataclasses import dataclass
from datetime import datetime

from app.domain.moves import RevisionStatus
from app.domain.revisions import RevisionLine, Signature

_HASH = re.compile(r"[0-9a-f]{64}", re.ASCII)
_BETWEEN_DIGITS = re.compile(r"[\s:-]")


def read_hash(typed: str) -> str | None:
    """A fingerprint as a link gives it or as somebody copies it from paper; None: it is none."""
    digits = _BETWEEN_DIGITS.sub("", typed).lower()
    return digits if _HASH.fullmatch(digits) else None


@dataclass(frozen=True)
class Confirmation:
    """A signed revision that has this fingerprint, as it stands now.

    `entry`: which entry of the ledger has the head that was asked for; None: none has, so the
    paper is not from this ledger or the ledger lost its tail.
    """

    line: RevisionLine
    signatures: tuple[Signature, ...]
    head_asked: bool
    entry: int | None

    @property
    def holds(self) -> bool:
        return self.line.status is RevisionStatus.IN_FORCE

    @property
    def since(self) -> datetime | None:
        """Since when, or from when on, its status is what it is."""
        line = self.line
        return {
            RevisionStatus.WITHDRAWN: line.withdrawn_at,
            RevisionStatus.SUPERSEDED: line.until,
        }.get(line.status, line.in_force_at)
