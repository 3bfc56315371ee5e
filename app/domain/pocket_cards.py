"""Pocket cards: what was printed of which revision, and which of them must be taken back."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.domain.errors import NotNow
from app.domain.moves import RevisionStatus
from app.domain.revisions import RevisionLine

MOST_COPIES = 1000
CHECKSUM_DIGITS = 8
"""Of the fingerprint, on every card: enough to tell two revisions apart by eye."""


class CardSize(StrEnum):
    A6 = "a6"
    A5 = "a5"
    FOLDED = "folded-a4"

    @property
    def words(self) -> str:
        return {
            CardSize.A6: "A6, a card for each category",
            CardSize.A5: "A5, a card for each category",
            CardSize.FOLDED: "A4 to fold twice, four panels on a side",
        }[self]


@dataclass(frozen=True)
class PrintedCards:
    """One print run. `collected_at` None: as far as anybody said, they are still out there."""

    number: int
    revision: int
    size: CardSize
    model: str
    copies: int
    place: str
    printed_at: datetime
    printed_by: str
    collected_at: datetime | None = None
    collected_by: str = ""
    collected_note: str = ""


def checksum(fingerprint: str) -> str:
    return fingerprint[:CHECKSUM_DIGITS]


def check_printable(line: RevisionLine) -> None:
    """A card outlives the screen it was printed from, so only what is signed goes onto one."""
    if line.status not in (RevisionStatus.SIGNED, RevisionStatus.IN_FORCE):
        raise NotNow(
            f"Revision {line.number} is {line.status.words}; cards are printed only of a revision "
            "that is signed or in force."
        )


def to_be_collected(printed: PrintedCards, *, current: frozenset[int]) -> bool:
    """`current`: the revision in force, and those signed for later."""
    return printed.collected_at is None and printed.revision not in current
