"""What people say of a revision or one of its cells, until it is resolved."""

from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.revision_comments import add_comment, resolve_comment
from app.domain.errors import Fault, NotFound, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revision_comments import Comment, comments_at
from app.lookups.policy import OpenRevision, open_revision
from app.web.notices import done
from app.web.policy_desk import Desk, desk_of
from app.web.policy_grid import Cell, grid
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/comments")


class CommentEntry(BaseModel):
    """As typed; without category and alarm it is on the whole revision."""

    category: Annotated[str, Field(max_length=60)] = ""
    alarm: Annotated[str, Field(max_length=60)] = ""
    text: Annotated[str, Field(max_length=8000)] = ""

    @property
    def cell(self) -> tuple[str, str] | None:
        return (self.category, self.alarm) if self.category or self.alarm else None


class ResolutionEntry(BaseModel):
    """`category` and `alarm` say on which page it was typed."""

    category: Annotated[str, Field(max_length=60)] = ""
    alarm: Annotated[str, Field(max_length=60)] = ""
    done: Annotated[str, Field(max_length=8000)] = ""


@dataclass(frozen=True)
class CommentsPage:
    """Of one cell, or of everything where `cell` is None. `resolving`: where `faults` belong."""

    base: str
    number: int
    cell: Cell | None
    comments: tuple[Comment, ...]
    desk: Desk
    can_edit: bool
    typed: str = ""
    resolving: int | None = None
    faults: tuple[Fault, ...] = ()


@router.get("")
def comments(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    return render(request, "policy/comments.html", _page(tx, person, now, number, "", ""))


@router.get("/{category}/{alarm}")
def comments_of_cell(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    category: str,
    alarm: str,
) -> Response:
    return render(request, "policy/comments.html", _page(tx, person, now, number, category, alarm))


def _page(
    tx: Transaction, person: Person, now: Now, number: int, category: str, alarm: str
) -> CommentsPage:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    cell = _cell(found, category, alarm) if category or alarm else None
    held = found.comments if cell is None else comments_at(found.comments, category, alarm)
    return CommentsPage(
        base_of(person, number),
        number,
        cell,
        held,
        desk_of(found, (), person),
        can_edit(found.revision, person),
    )


def _cell(found: OpenRevision, category: str, alarm: str) -> Cell:
    cells = (cell for row in grid(found.profile, ()) for cell in row.cells)
    for cell in cells:
        if (cell.category.key, cell.alarm.key) == (category, alarm):
            return cell
    raise NotFound("There is no such cell.")


@router.post("")
def comment(
    request: Request, person: Member, now: Now, number: int, entry: Annotated[CommentEntry, Form()]
) -> Response:
    check_may(person, Deed.COMMENT)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            add_comment(tx, number=number, text=entry.text, cell=entry.cell, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _page(tx, person, now, number, entry.category, entry.alarm)
        told = replace(page, typed=entry.text, faults=refused.faults)
        return render(request, "policy/comments.html", told, status=refused.status)
    return done(_back(person, number, entry), "Your comment is kept.")


@router.post("/{comment}/resolve")
def resolve(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    comment: int,
    entry: Annotated[ResolutionEntry, Form()],
) -> Response:
    check_may(person, Deed.COMMENT)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            resolve_comment(tx, number=number, comment=comment, done=entry.done, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _page(tx, person, now, number, entry.category, entry.alarm)
        told = replace(page, typed=entry.done, resolving=comment, faults=refused.faults)
        return render(request, "policy/comments.html", told, status=refused.status)
    return done(_back(person, number, entry), "The comment is resolved.")


def _back(person: Person, number: int, entry: CommentEntry | ResolutionEntry) -> str:
    base = base_of(person, number)
    if entry.category and entry.alarm:
        return f"{base}/comments/{entry.category}/{entry.alarm}"
    return f"{base}#comments"
