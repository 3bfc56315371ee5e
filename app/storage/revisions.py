"""A revision is one JSON document; in force and superseded are reckoned, never stored."""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint, func, update
from sqlmodel import Field, Session, Text, col, select

from app.domain.moves import RevisionStatus
from app.domain.people import Person
from app.domain.revisions import Author, Review, RevisionLine, StoredRevision, with_ends
from app.storage.base import NumberedRow, Row, both_or_neither, filled, one_of, sha256_hex
from app.storage.documents import whole
from app.storage.people import PersonRow
from app.storage.signatures import signatures_of

_DECIDED = (
    RevisionStatus.DRAFT,
    RevisionStatus.IN_REVIEW,
    RevisionStatus.SIGNED,
    RevisionStatus.WITHDRAWN,
)


class RevisionRow(NumberedRow, table=True):
    __tablename__ = "revision"
    __table_args__ = (
        UniqueConstraint("agency_id", "number"),
        one_of("status", _DECIDED),
        filled("document"),
        sha256_hex("fingerprint"),
        both_or_neither("reviewed_by", "reviewed_at"),
        both_or_neither("signed_at", "in_force_at"),
        both_or_neither("signed_at", "review_by"),
        filled("emergency"),
        CheckConstraint("number > 0", name="number_positive"),
        CheckConstraint("edit_version > 0", name="edit_version_positive"),
        CheckConstraint("in_force_at >= signed_at", name="never_before_signing"),
        CheckConstraint(
            "(signed_at IS NULL) = (status IN ('draft', 'in-review'))", name="signed_has_time"
        ),
        CheckConstraint(
            "(withdrawn_at IS NOT NULL) = (status = 'withdrawn')", name="withdrawn_has_time"
        ),
        CheckConstraint("emergency IS NULL OR signed_at IS NOT NULL", name="emergency_is_signed"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    number: int
    status: str
    document: str = Field(sa_type=Text)
    fingerprint: str
    edit_version: int
    note: str
    created_at: datetime
    changed_at: datetime
    reviewed_by: int | None = Field(default=None, foreign_key="person.id")
    reviewed_at: datetime | None = None
    signed_at: datetime | None = None
    in_force_at: datetime | None = None
    withdrawn_at: datetime | None = None
    review_by: date | None = None
    emergency: str | None = Field(default=None, sa_type=Text)


class RevisionAuthorRow(Row, table=True):
    __tablename__ = "revision_author"

    revision_id: int = Field(foreign_key="revision.id", primary_key=True)
    person_id: int = Field(foreign_key="person.id", primary_key=True)


_LINE: tuple[Any, ...] = (
    RevisionRow.id,
    RevisionRow.number,
    RevisionRow.status,
    RevisionRow.fingerprint,
    RevisionRow.edit_version,
    RevisionRow.created_at,
    RevisionRow.changed_at,
    RevisionRow.note,
    RevisionRow.signed_at,
    RevisionRow.in_force_at,
    RevisionRow.withdrawn_at,
    RevisionRow.review_by,
    RevisionRow.emergency,
    RevisionRow.reviewed_at,
)


def add_draft(
    tx: Session, *, agency_id: int, number: int, document: str, fingerprint: str, now: datetime
) -> int:
    row = RevisionRow(
        agency_id=agency_id,
        number=number,
        status=RevisionStatus.DRAFT.value,
        document=document,
        fingerprint=fingerprint,
        edit_version=1,
        note="",
        created_at=now,
        changed_at=now,
    )
    tx.add(row)
    tx.flush()
    return row.saved_id


def next_number(tx: Session, agency_id: int) -> int:
    wanted = select(func.max(RevisionRow.number)).where(RevisionRow.agency_id == agency_id)
    return (tx.exec(wanted).one() or 0) + 1


def revision_id_of(tx: Session, agency_id: int, number: int | None) -> int | None:
    if number is None:
        return None
    wanted = select(RevisionRow.id).where(
        RevisionRow.agency_id == agency_id, RevisionRow.number == number
    )
    return tx.exec(wanted).one()


def add_author(tx: Session, *, revision_id: int, person_id: int) -> None:
    if tx.get(RevisionAuthorRow, (revision_id, person_id)) is None:
        tx.add(RevisionAuthorRow(revision_id=revision_id, person_id=person_id))


def change_draft(tx: Session, edited: StoredRevision) -> None:
    """The document alone; its authors are rows of their own."""
    _change(
        tx,
        edited.id,
        edited.changed_at,
        document=edited.document,
        fingerprint=edited.fingerprint,
        edit_version=edited.edit_version,
    )


def put_in_review(tx: Session, *, revision_id: int, note: str, now: datetime) -> None:
    _change(tx, revision_id, now, status=RevisionStatus.IN_REVIEW.value, note=note)


def send_back(tx: Session, *, revision_id: int, note: str, now: datetime) -> None:
    """The next reviewer starts afresh."""
    status = RevisionStatus.DRAFT.value
    _change(tx, revision_id, now, status=status, note=note, reviewed_by=None, reviewed_at=None)


def record_review(tx: Session, *, revision_id: int, by: Person, note: str, now: datetime) -> None:
    _change(tx, revision_id, now, reviewed_by=by.id, reviewed_at=now, note=note)


def forget_review(tx: Session, *, revision_id: int, now: datetime) -> None:
    _change(tx, revision_id, now, reviewed_by=None, reviewed_at=None)


def mark_signed(
    tx: Session,
    *,
    revision_id: int,
    in_force_at: datetime,
    review_by: date,
    emergency: str,
    now: datetime,
) -> None:
    _change(
        tx,
        revision_id,
        now,
        status=RevisionStatus.SIGNED.value,
        signed_at=now,
        in_force_at=in_force_at,
        review_by=review_by,
        emergency=emergency or None,
    )


def withdraw(tx: Session, *, revision_id: int, note: str, now: datetime) -> None:
    status = RevisionStatus.WITHDRAWN.value
    _change(tx, revision_id, now, status=status, withdrawn_at=now, note=note)


def _change(tx: Session, revision_id: int, now: datetime, **values: Any) -> None:
    wanted = col(RevisionRow.id) == revision_id
    tx.exec(update(RevisionRow).where(wanted).values(changed_at=now, **values))


def lines_of(tx: Session, agency_id: int) -> list[RevisionLine]:
    wanted = (
        sa.select(*_LINE)
        .where(col(RevisionRow.agency_id) == agency_id)
        .order_by(col(RevisionRow.number))
    )
    return with_ends(_line(row) for row in tx.execute(wanted))


def find_revision(
    tx: Session,
    *,
    agency_id: int,
    number: int,
    lines: Sequence[RevisionLine] | None = None,
) -> StoredRevision | None:
    """`lines` where they are known already."""
    for line in lines_of(tx, agency_id) if lines is None else lines:
        if line.number == number:
            return load_revision(tx, line)
    return None


def revision_in_force(
    tx: Session, *, agency_id: int, at: datetime, lines: Sequence[RevisionLine] | None = None
) -> StoredRevision | None:
    """`lines` where they are known already."""
    for line in lines_of(tx, agency_id) if lines is None else lines:
        if line.holds_at(at):
            return load_revision(tx, line)
    return None


def documents_of(tx: Session, *, agency_id: int, numbers: Collection[int]) -> dict[int, str]:
    wanted = select(RevisionRow.number, RevisionRow.document, RevisionRow.fingerprint).where(
        RevisionRow.agency_id == agency_id, col(RevisionRow.number).in_(numbers)
    )
    return {
        number: whole(document, fingerprint, number=number)
        for number, document, fingerprint in tx.exec(wanted)
    }


def policies_of(tx: Session, agency_id: int) -> list[tuple[RevisionLine, str]]:
    """Every revision that came into force, or will, with its document."""
    lines = [line for line in lines_of(tx, agency_id) if line.came_into_force]
    documents = documents_of(tx, agency_id=agency_id, numbers=[line.number for line in lines])
    return [(line, documents[line.number]) for line in lines]


def load_revision(tx: Session, line: RevisionLine) -> StoredRevision:
    wanted = (
        sa.select(
            col(RevisionRow.document),
            col(PersonRow.id),
            col(PersonRow.name),
        )
        .outerjoin(PersonRow, col(RevisionRow.reviewed_by) == col(PersonRow.id))
        .where(col(RevisionRow.id) == line.id)
    )
    document, reviewer, name = tx.execute(wanted).one()
    at = line.reviewed_at
    review = None if at is None else Review(person_id=reviewer, name=name, at=at)
    return StoredRevision(
        **vars(line),
        document=whole(document, line.fingerprint, number=line.number),
        authors=_authors(tx, line.id),
        review=review,
        signatures=() if line.signed_at is None else signatures_of(tx, line.id),
    )


def _authors(tx: Session, revision_id: int) -> tuple[Author, ...]:
    wanted = (
        select(PersonRow.id, PersonRow.name)
        .join(RevisionAuthorRow, col(RevisionAuthorRow.person_id) == col(PersonRow.id))
        .where(RevisionAuthorRow.revision_id == revision_id)
        .order_by(PersonRow.name)
    )
    return tuple(Author(*found) for found in tx.exec(wanted))


def _line(row: Sequence[Any]) -> RevisionLine:
    number_of_row, number, status, *rest = row
    return RevisionLine(number_of_row, number, RevisionStatus(status), *rest)
