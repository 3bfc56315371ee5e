"""Comments on a revision before it is signed, and what was done about them."""

from datetime import datetime

from sqlmodel import Session

from app.actions.revision_entries import revision_of, tell
from app.domain import plain_text
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import NotFound, NotNow
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revision_comments import Comment, check_open_to_words
from app.domain.revisions import StoredRevision
from app.exchange.stored_profiles import stored_profile
from app.storage import revision_comments
from app.storage.agencies import lock_policy

Cell = tuple[str, str]
"""Category and alarm."""


def add_comment(
    tx: Session, *, number: int, text: str, by: Person, now: datetime, cell: Cell | None = None
) -> Comment:
    """On one cell of the grid, or without one on the whole revision."""
    check_may(by, Deed.COMMENT)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    check_open_to_words(found.status)
    if cell is not None:
        _check_cell(found, cell)
    text = plain_text.note(text, column="text", needed=True)
    added = revision_comments.add_comment(
        tx, revision_id=found.id, cell=cell, text=text, by=by, now=now
    )
    tell(tx, "comment", found, by=by, now=now, comment=added.id, text=text, **_place(added))
    return added


def resolve_comment(
    tx: Session, *, number: int, comment: int, done: str, by: Person, now: datetime
) -> None:
    """`done` says what was done about it."""
    check_may(by, Deed.COMMENT)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    check_open_to_words(found.status)
    held = {one.id: one for one in revision_comments.comments_of(tx, found.id)}
    if comment not in held:
        raise NotFound("There is no such comment.")
    if held[comment].resolution is not None:
        raise NotNow("This comment is resolved already.")
    done = plain_text.note(done, column="done", needed=True)
    revision_comments.mark_resolved(tx, comment_id=comment, done=done, by=by, now=now)
    told = _place(held[comment])
    tell(tx, "resolve a comment", found, by=by, now=now, comment=comment, done=done, **told)


def _check_cell(found: StoredRevision, cell: Cell) -> None:
    category, alarm = cell
    known = stored_profile(found.document).category(category)
    if known is None or alarm not in ALARM_CONDITIONS:
        raise NotFound("There is no such cell.")


def _place(comment: Comment) -> dict[str, str]:
    if comment.category is None or comment.alarm is None:
        return {}
    return {"category": comment.category, "alarm": comment.alarm}
