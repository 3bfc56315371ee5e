"""Comments stay with their revision for good; only their resolution is added."""

from datetime import datetime

from sqlalchemy import update
from sqlmodel import Field, Session, Text, col, select

from app.domain.people import Person
from app.domain.revision_comments import Comment, Resolution
from app.storage.base import NumberedRow, both_or_neither, filled


class RevisionCommentRow(NumberedRow, table=True):
    """Names are written down as they were."""

    __tablename__ = "revision_comment"
    __table_args__ = (
        filled("text"),
        filled("name"),
        filled("done"),
        both_or_neither("category", "alarm"),
        *(both_or_neither(column, "resolved_at") for column in ("resolved_by", "resolver", "done")),
    )

    revision_id: int = Field(foreign_key="revision.id", index=True)
    category: str | None = None
    alarm: str | None = None
    text: str = Field(sa_type=Text)
    person_id: int = Field(foreign_key="person.id")
    name: str
    written_at: datetime
    resolved_by: int | None = Field(default=None, foreign_key="person.id")
    resolver: str | None = None
    resolved_at: datetime | None = None
    done: str | None = Field(default=None, sa_type=Text)


def add_comment(
    tx: Session,
    *,
    revision_id: int,
    cell: tuple[str, str] | None,
    text: str,
    by: Person,
    now: datetime,
) -> Comment:
    category, alarm = cell or (None, None)
    row = RevisionCommentRow(
        revision_id=revision_id,
        category=category,
        alarm=alarm,
        text=text,
        person_id=by.id,
        name=by.name,
        written_at=now,
    )
    tx.add(row)
    tx.flush()
    return _comment(row)


def mark_resolved(tx: Session, *, comment_id: int, done: str, by: Person, now: datetime) -> None:
    tx.exec(
        update(RevisionCommentRow)
        .where(col(RevisionCommentRow.id) == comment_id)
        .values(resolved_by=by.id, resolver=by.name, resolved_at=now, done=done)
    )


def comments_of(tx: Session, revision_id: int) -> tuple[Comment, ...]:
    """The oldest first."""
    wanted = (
        select(RevisionCommentRow)
        .where(RevisionCommentRow.revision_id == revision_id)
        .order_by(col(RevisionCommentRow.written_at), col(RevisionCommentRow.id))
        .execution_options(populate_existing=True)
    )
    return tuple(_comment(row) for row in tx.exec(wanted))


def _comment(row: RevisionCommentRow) -> Comment:
    return Comment(
        id=row.saved_id,
        category=row.category,
        alarm=row.alarm,
        text=row.text,
        by_name=row.name,
        written_at=row.written_at,
        resolution=_resolution(row),
    )


def _resolution(row: RevisionCommentRow) -> Resolution | None:
    if row.resolver is None or row.resolved_at is None or row.done is None:
        return None
    return Resolution(row.resolver, row.resolved_at, row.done)
