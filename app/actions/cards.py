"""Printing pocket cards, so that each of them can be called back, and taking them back."""

from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotFound, NotNow, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.domain.plain_text import note as plain_note
from app.domain.pocket_cards import MOST_COPIES, CardSize, PrintedCards, check_printable
from app.domain.revisions import StoredRevision
from app.exchange.stored_profiles import stored_profile
from app.storage import card_prints, ledger, revisions
from app.storage.agencies import lock_policy


def print_cards(
    tx: Session,
    *,
    revision: int,
    size: CardSize,
    model: str,
    copies: int,
    place: str,
    by: Person,
    now: datetime,
) -> PrintedCards:
    """`model` empty: in the policy's own units and steps. `place`: where the cards will lie."""
    check_may(by, Deed.PRINT_CARDS)
    place = line(place, column="place")
    if not 1 <= copies <= MOST_COPIES:
        raise Refused.because(f"print 1 to {MOST_COPIES}", column="copies", value=copies)
    lock_policy(tx, by.agency_id)
    found = _printable(tx, revision, model, by=by, now=now)
    number = card_prints.add_print(
        tx,
        revision_id=found.id,
        size=size,
        model=model,
        copies=copies,
        place=place,
        by=by,
        now=now,
    )
    printed = _printed(tx, number, by)
    _tell(tx, "print cards", printed, by=by, now=now)
    return printed


def _printable(
    tx: Session, number: int, model: str, *, by: Person, now: datetime
) -> StoredRevision:
    found = revisions.find_revision(tx, agency_id=by.agency_id, number=number)
    if found is None:
        raise NotFound(f"There is no revision {number}.")
    check_printable(found.as_of(now))
    if model and model not in stored_profile(found.document).models:
        raise Refused.because("the revision knows no such model", column="model", value=model)
    return found


def collect_cards(tx: Session, *, number: int, note: str, by: Person, now: datetime) -> None:
    """Somebody has them back in hand, or says what became of them."""
    check_may(by, Deed.PRINT_CARDS)
    note = plain_note(note, needed=True)
    lock_policy(tx, by.agency_id)
    printed = _printed(tx, number, by)
    if printed.collected_at is not None:
        raise NotNow(f"These cards were collected already, by {printed.collected_by}.")
    card_prints.mark_collected(tx, number=number, note=note, by=by, now=now)
    _tell(tx, "collect cards", printed, by=by, now=now, note=note)


def _printed(tx: Session, number: int, by: Person) -> PrintedCards:
    for printed in card_prints.prints_of(tx, by.agency_id):
        if printed.number == number:
            return printed
    raise NotFound("No such cards were printed.")


def _tell(
    tx: Session, did: str, printed: PrintedCards, *, by: Person, now: datetime, **more: str
) -> None:
    about = {
        "print": printed.number,
        "revision": printed.revision,
        "size": printed.size.value,
        "copies": printed.copies,
        "place": printed.place,
        **more,
    }
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
