"""The cards that were printed, and which of them no longer hold."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.moves import RevisionStatus
from app.domain.pocket_cards import PrintedCards, to_be_collected
from app.domain.revisions import RevisionLine
from app.exchange.stored_profiles import stored_profile
from app.lookups.revisions import all_revisions
from app.storage import card_prints, revisions

_PRINTABLE = (RevisionStatus.IN_FORCE, RevisionStatus.SIGNED)


@dataclass(frozen=True)
class CardsPage:
    """`printable`: the revisions of which cards may be printed, what is in force first.

    `recall`: cards out there of a revision that no longer holds.
    """

    printable: tuple[RevisionLine, ...]
    models: tuple[str, ...]
    recall: tuple[PrintedCards, ...]
    others: tuple[PrintedCards, ...]


def cards(tx: Session, *, agency_id: int, now: datetime) -> CardsPage:
    lines = all_revisions(tx, agency_id=agency_id, now=now)
    printable = [line for line in lines if line.status in _PRINTABLE]
    numbers = [line.number for line in printable]
    documents = revisions.documents_of(tx, agency_id=agency_id, numbers=numbers)
    models = {model for text in documents.values() for model in stored_profile(text).models}
    printed = card_prints.prints_of(tx, agency_id)
    recall = [one for one in printed if to_be_collected(one, current=frozenset(numbers))]
    return CardsPage(
        tuple(sorted(printable, key=lambda line: _PRINTABLE.index(line.status))),
        tuple(sorted(models)),
        tuple(recall),
        tuple(one for one in printed if one not in recall),
    )


def printed_cards(tx: Session, *, agency_id: int, number: int) -> PrintedCards | None:
    found = card_prints.prints_of(tx, agency_id)
    return next((one for one in found if one.number == number), None)
