"""A draft of the outer bounds, edited row by row by whoever drafted it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from app.actions.outer_bounds import draft_bounds, edit_bounds
from app.domain.bounds_changes import BoundChange, beyond, bounds_changes, label_of
from app.domain.bounds_edits import (
    mark_of,
    row_marked,
    with_bound,
    with_changed_bound,
    without_bound,
)
from app.domain.bounds_versions import check_can_edit
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import Conflict, NotFound, Refused
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.bounds_csv import write_bounds
from app.exchange.stored_bounds import bounds_of
from app.lookups.outer_bounds import OpenBounds, agency_bounds, open_bounds, with_bounds
from app.web.bounds import counted
from app.web.bounds_row_pages import BoundEntry, BoundForm, BoundsEditor, typed_as
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction, Writing
from app.web.typed import typed_in

router = APIRouter(prefix="/{agency}/bounds")
Entry = Annotated[BoundEntry, Form()]
Change = Callable[[OuterBounds], OuterBounds]


def _base(person: Person, number: int) -> str:
    return f"/{person.agency}/bounds/{number}"


@router.post("/start")
def start(
    person: Member,
    tx: Writing,
    now: Now,
    of: Annotated[str, Form(max_length=20)] = "in-force",
) -> Response:
    """A draft of one's own: from what judges now, the default, or a numbered version."""
    check_may(person, Deed.EDIT_DRAFT)
    drafted = draft_bounds(tx, text=write_bounds(_start(tx, person, now, of)), by=person, now=now)
    notice = f"Version {drafted.number} was drafted. Nothing of it judges until it is signed."
    return done(f"{_base(person, drafted.number)}/rows", notice)


def _start(tx: Transaction, person: Person, now: Now, of: str) -> OuterBounds:
    if of == "default":
        return DEFAULT_BOUNDS
    if of.isascii() and of.isdigit():
        return open_bounds(tx, agency_id=person.agency_id, number=int(of), now=now).bounds
    return agency_bounds(tx, agency_id=person.agency_id, now=now).in_force


def _draft(tx: Transaction, person: Person, now: Now, number: int) -> OpenBounds:
    """Whoever did not draft it is refused before anything is typed."""
    check_may(person, Deed.EDIT_DRAFT)
    found = open_bounds(tx, agency_id=person.agency_id, number=number, now=now)
    check_can_edit(found.listed.version, by=person.id)
    return found


@router.get("/{number}/rows")
def rows(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    found = _draft(tx, person, now, number)
    page = BoundsEditor(_base(person, number), found, counted(found.against_in_force))
    return render(request, "bounds/rows.html", page)


@router.get("/{number}/rows/new")
def new(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    entry: Annotated[BoundEntry, Query()],
) -> Response:
    found = _draft(tx, person, now, number)
    return render(request, "bounds/row.html", _form(person, found, entry, ""))


@router.get("/{number}/rows/{mark}")
def row(
    request: Request, person: Member, tx: Reading, now: Now, number: int, mark: str
) -> Response:
    found = _draft(tx, person, now, number)
    held = row_marked(found.bounds, mark)
    page = replace(_form(person, found, typed_as(held), mark), row=held)
    return render(request, "bounds/row.html", page)


def _form(person: Person, found: OpenBounds, entry: BoundEntry, mark: str) -> BoundForm:
    version = found.listed.version
    base = _base(person, version.number)
    return BoundForm(base, version.number, version.edit_version, mark, entry, None, found)


@router.post("/{number}/rows")
def add(request: Request, person: Member, now: Now, number: int, entry: Entry) -> Response:
    def change(bounds: OuterBounds) -> OuterBounds:
        return with_bound(bounds, entry.row())

    return _edit(request, person, now, BoundSent(number, "", entry), change)


@router.post("/{number}/rows/{mark}")
def save(
    request: Request, person: Member, now: Now, number: int, mark: str, entry: Entry
) -> Response:
    def change(bounds: OuterBounds) -> OuterBounds:
        return with_changed_bound(bounds, mark, entry.row())

    return _edit(request, person, now, BoundSent(number, mark, entry), change)


@router.post("/{number}/rows/{mark}/remove")
def remove(
    request: Request, person: Member, now: Now, number: int, mark: str, entry: Entry
) -> Response:
    def change(bounds: OuterBounds) -> OuterBounds:
        return without_bound(bounds, mark)

    return _edit(request, person, now, BoundSent(number, mark, entry, removes=True), change)


@dataclass(frozen=True)
class BoundSent:
    """One form that was sent. `mark` empty: about a new bound."""

    number: int
    mark: str
    entry: BoundEntry
    removes: bool = False


def _edit(request: Request, person: Person, now: Now, sent: BoundSent, change: Change) -> Response:
    database = request.app.state.database
    with database.reading() as tx:
        found = _draft(tx, person, now, sent.number)
    try:
        _check_there(found, sent)
        changed = change(found.bounds)
        if sent.entry.act == "show":
            return _shown(request, person, now, found, sent, changed)
        with database.writing() as tx:
            edit_bounds(
                tx,
                number=sent.number,
                text=write_bounds(changed),
                edit_version=sent.entry.edit_version,
                by=person,
                now=now,
            )
    except Refused as refused:
        return _refused(request, person, found, sent, refused)
    except Conflict as conflict:
        return _both(request, person, sent, conflict)
    return done(f"{_base(person, sent.number)}/rows#changes", _told(found, sent))


def _check_there(found: OpenBounds, sent: BoundSent) -> None:
    """A row that was changed elsewhere meanwhile has another mark: nothing typed may be lost."""
    if sent.mark not in {"", *map(mark_of, found.bounds.rows)}:
        if sent.removes or sent.entry.edit_version == found.listed.version.edit_version:
            raise NotFound("There is no such bound in this draft any more.")
        raise Conflict(
            f"Version {sent.number} was changed while you were editing it: this bound is not "
            "there any more as you saw it.",
            theirs=found.listed.version.text,
            yours=write_bounds(with_bound(found.bounds, sent.entry.row())),
            version=found.listed.version.edit_version,
        )


def _told(found: OpenBounds, sent: BoundSent) -> str:
    if not sent.removes:
        return "Saved in the draft. What it changes is told below."
    gone = row_marked(found.bounds, sent.mark)
    return f"Removed from the draft: {label_of(gone)}, {gone.span}, {beyond(gone)}."


def _shown(
    request: Request,
    person: Person,
    now: Now,
    found: OpenBounds,
    sent: BoundSent,
    changed: OuterBounds,
) -> Response:
    """Nothing is stored by it."""
    with request.app.state.database.reading() as tx:
        trial = with_bounds(tx, found, changed, agency_id=person.agency_id, now=now)
    page = replace(_form(person, trial, sent.entry, sent.mark), row=sent.entry.row(), shown=True)
    return render(request, "bounds/row.html", page)


def _refused(
    request: Request, person: Person, found: OpenBounds, sent: BoundSent, refused: Refused
) -> Response:
    page = _form(person, found, sent.entry, sent.mark)
    page = replace(page, row=_row_or_none(sent.entry), faults=refused.faults)
    return render(request, "bounds/row.html", page, status=422)


def _row_or_none(entry: BoundEntry) -> OuterBound | None:
    """What is beside the form needs a row that can be read."""
    try:
        return entry.row()
    except Refused:
        return None


@dataclass(frozen=True)
class BoundsConflict:
    """`changes`: from the draft as it stands to what saving again would make of it."""

    message: str
    base: str
    action: str
    fields: tuple[tuple[str, str], ...]
    changes: tuple[BoundChange, ...]


def _both(request: Request, person: Person, sent: BoundSent, conflict: Conflict) -> Response:
    theirs, yours = (bounds_of(str(text), "draft") for text in (conflict.theirs, conflict.yours))
    base = _base(person, sent.number)
    there = sent.mark in {mark_of(row) for row in theirs.rows}
    fields = [(name, value) for name, value in typed_in(request) if name != "edit_version"]
    page = BoundsConflict(
        conflict.message,
        base,
        request.url.path if there else f"{base}/rows",
        (*fields, ("edit_version", str(conflict.version))),
        tuple(bounds_changes(theirs, yours)),
    )
    return render(request, "bounds/conflict.html", page, status=conflict.status)
