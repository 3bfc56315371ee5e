"""Print runs of pocket cards; nothing of a run changes but that it was collected."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint, func, update
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.domain.pocket_cards import CardSize, PrintedCards
from app.storage.base import NumberedRow, both_or_neither, one_of
from app.storage.people import PersonRow
from app.storage.revisions import RevisionRow


class CardPrintRow(NumberedRow, table=True):
    __tablename__ = "card_print"
    __table_args__ = (
        UniqueConstraint("agency_id", "number"),
        one_of("size", CardSize),
        both_or_neither("collected_by", "collected_at"),
        CheckConstraint("number > 0", name="number_positive"),
        CheckConstraint("copies > 0", name="copies_positive"),
        CheckConstraint("collected_at >= printed_at", name="collected_after_printing"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    number: int
    revision_id: int = Field(foreign_key="revision.id")
    size: str
    model: str
    copies: int
    place: str
    printed_at: datetime
    printed_by: int = Field(foreign_key="person.id")
    collected_at: datetime | None = None
    collected_by: int | None = Field(default=None, foreign_key="person.id")
    collected_note: str = ""


def add_print(
    tx: Session,
    *,
    revision_id: int,
    size: CardSize,
    model: str,
    copies: int,
    place: str,
    by: Person,
    now: datetime,
) -> int:
    """The number it got, the next of the agency."""
    taken = select(func.max(CardPrintRow.number)).where(CardPrintRow.agency_id == by.agency_id)
    number = (tx.exec(taken).one() or 0) + 1
    tx.add(
        CardPrintRow(
            agency_id=by.agency_id,
            number=number,
            revision_id=revision_id,
            size=size.value,
            model=model,
            copies=copies,
            place=place,
            printed_at=now,
            printed_by=by.id,
        )
    )
    tx.flush()
    return number


def mark_collected(tx: Session, *, number: int, note: str, by: Person, now: datetime) -> None:
    wanted = (col(CardPrintRow.agency_id) == by.agency_id) & (col(CardPrintRow.number) == number)
    values = {"collected_at": now, "collected_by": by.id, "collected_note": note}
    tx.exec(update(CardPrintRow).where(wanted).values(**values))


def prints_of(tx: Session, agency_id: int) -> list[PrintedCards]:
    """The newest first."""
    printer, collector = aliased(PersonRow), aliased(PersonRow)
    wanted = (
        select(CardPrintRow, RevisionRow.number, printer.name, collector.name)
        .join(RevisionRow, col(RevisionRow.id) == col(CardPrintRow.revision_id))
        .join(printer, col(printer.id) == col(CardPrintRow.printed_by))
        .outerjoin(collector, col(collector.id) == col(CardPrintRow.collected_by))
        .where(CardPrintRow.agency_id == agency_id)
        .order_by(col(CardPrintRow.number).desc())
    )
    return [_printed(*found) for found in tx.exec(wanted)]


def _printed(
    row: CardPrintRow, revision: int, printed_by: str, collected_by: str | None
) -> PrintedCards:
    return PrintedCards(
        number=row.number,
        revision=revision,
        size=CardSize(row.size),
        model=row.model,
        copies=row.copies,
        place=row.place,
        printed_at=row.printed_at,
        printed_by=printed_by,
        collected_at=row.collected_at,
        collected_by=collected_by or "",
        collected_note=row.collected_note,
    )
