"""A file of readings: choose it, see what it would change, then take it in."""

from dataclasses import dataclass
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from app.actions.long_work import ask_to_look, ask_to_take_held, is_long, pack
from app.actions.report_files import (
    check_columns,
    held_upload,
    hold_packed,
    hold_upload,
    let_go,
    read_file,
    take_upload,
)
from app.domain.errors import Fault, NotNow, Refused
from app.domain.long_work import LongWork
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import is_printable
from app.exchange.fault_csv import fault_csv
from app.exchange.report_files import fingerprint_of
from app.exchange.report_sources import OtherColumns, can_be_mapped
from app.lookups.long_work import last_look_of
from app.lookups.report_files import FilePreview, held_file, kept_preview, preview_file
from app.web.long_work import ASKED, taken_words
from app.web.notices import done
from app.web.render import render
from app.web.security import LARGEST_READINGS
from app.web.sessions import Member
from app.web.transactions import Now, Writing

router = APIRouter()
LONGEST_NAME = 100
MOST_FAULTS_SHOWN = 100
_OTHER = "The columns of this file are not ours. Say which of them stands for which of ours."


@dataclass(frozen=True)
class ChoosePage:
    most_mib: int = LARGEST_READINGS // 2**20
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class PreviewPage:
    file: FilePreview
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class Chosen:
    """`content` waits on the disk if it is large; None: nothing was chosen."""

    name: str
    content: BinaryIO | None


async def _chosen(request: Request, person: Member) -> Chosen:
    """Asked for after the person, so that nobody else's file is read."""
    check_may(person, Deed.UPLOAD_READINGS)
    file = (await request.form()).get("file")
    if not isinstance(file, UploadFile):
        return Chosen("", None)
    name = (file.filename or "").replace("\\", "/").rpartition("/")[2][:LONGEST_NAME].strip()
    return Chosen(name if is_printable(name) else "", file.file if file.size else None)


@router.get("/{agency}/fleet/readings")
def choose_page(request: Request, person: Member) -> Response:
    check_may(person, Deed.UPLOAD_READINGS)
    return render(request, "fleet/readings.html", ChoosePage())


@router.post("/{agency}/fleet/readings")
def preview(
    request: Request, person: Member, now: Now, chosen: Annotated[Chosen, Depends(_chosen)]
) -> Response:
    """What may be taken is kept for this person; what may not be is not kept at all."""
    try:
        if chosen.content is not None and is_long(chosen.content):
            return _asked_to_look(request.app.state.database, chosen.content, chosen, person, now)
        found = _previewed(request.app.state.database, chosen, person, now)
    except OtherColumns:
        return done(f"/{person.agency}/fleet/readings/columns", _OTHER)
    except Refused as refused:
        page = ChoosePage(faults=refused.faults)
        return render(request, "fleet/readings.html", page, status=422)
    return preview_page(request, found)


def preview_page(request: Request, found: FilePreview) -> Response:
    page_shown = PreviewPage(found, found.faults[:MOST_FAULTS_SHOWN])
    status = 200 if found.takes else 422
    return render(request, "fleet/readings_preview.html", page_shown, status=status)


def _asked_to_look(
    database: Any, content: BinaryIO, chosen: Chosen, person: Person, now: Any
) -> Response:
    """A long file is read beside the pages; only its first row is looked at here."""
    name = chosen.name or "the file"
    fingerprint, packed = fingerprint_of(content), pack(content)
    try:
        with database.reading() as tx:
            check_columns(tx, content=content, by=person)
    except OtherColumns as other:
        if can_be_mapped(other.header):
            with database.writing() as tx:
                hold_packed(
                    tx, name=name, fingerprint=fingerprint, content=packed, by=person, now=now
                )
        raise
    with database.writing() as tx:
        number = ask_to_look(
            tx, name=name, content=packed, fingerprint=fingerprint, by=person, now=now
        )
    return done(f"/{person.agency}/work/{number}", ASKED)


def _previewed(database: Any, chosen: Chosen, person: Person, now: Any) -> FilePreview:
    if chosen.content is None:
        raise Refused.because("choose a file that is not empty", column="file")
    name = chosen.name or "the file"
    try:
        with database.reading() as tx:
            read = read_file(tx, content=chosen.content, by=person, now=now)
    except OtherColumns as other:
        if not can_be_mapped(other.header):
            raise
        with database.writing() as tx:
            hold_upload(tx, name=name, content=chosen.content, by=person, now=now)
        raise
    found = preview_file(read, name=name)
    if found.takes:
        with database.writing() as tx:
            hold_upload(tx, name=name, content=chosen.content, by=person, now=now)
    return found


@router.get("/{agency}/fleet/readings/look")
def look_again(request: Request, person: Member, now: Now) -> Response:
    """At the file that is held for this person: as it would be read now, or, if it is long, as it
    was read beside the pages."""
    found = _held(request.app.state.database, person, now)
    if isinstance(found, LongWork):
        return done(f"/{person.agency}/work/{found.id}", "It is read beside the pages.")
    return preview_page(request, found)


def _held(database: Any, person: Person, now: Any) -> FilePreview | LongWork:
    """Of a long file that was not read yet, the work that reads it."""
    check_may(person, Deed.UPLOAD_READINGS)
    with database.reading() as tx:
        kept = kept_preview(tx, person=person, now=now)
        if kept is not None:
            return kept
        held = held_file(tx, of=person, now=now)
        if is_long(held.content):
            return last_look_of(tx, person=person)
        read = read_file(tx, content=held.content, by=person, now=now)
    return preview_file(read, name=held.name)


@router.get("/{agency}/fleet/readings/refused.csv")
def refused_rows(request: Request, person: Member, now: Now) -> Response:
    found = _held(request.app.state.database, person, now)
    if isinstance(found, LongWork):
        raise NotNow("It is still being looked at.")
    headers = {"Content-Disposition": 'attachment; filename="refused-rows.csv"'}
    return Response(fault_csv(found.faults), media_type="text/csv", headers=headers)


@router.post("/{agency}/fleet/readings/drop")
def drop(
    person: Member, tx: Writing, fingerprint: Annotated[str, Form(max_length=64)] = ""
) -> Response:
    let_go(tx, fingerprint=fingerprint, by=person)
    return done(f"/{person.agency}/fleet/readings", "The file was let go. Nothing was stored.")


@router.post("/{agency}/fleet/readings/take")
def take(
    request: Request,
    person: Member,
    now: Now,
    fingerprint: Annotated[str, Form(max_length=64)] = "",
    good_rows: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    database = request.app.state.database
    with database.reading() as tx:  # so long a file keeps nobody else from writing
        content = held_upload(tx, fingerprint=fingerprint, by=person, now=now)
        long = is_long(content)
    if long:
        with database.writing() as tx:
            number = ask_to_take_held(
                tx, fingerprint=fingerprint, good_rows=good_rows == "yes", by=person, now=now
            )
        return done(f"/{person.agency}/work/{number}", ASKED)
    with database.reading() as tx:
        content = held_upload(tx, fingerprint=fingerprint, by=person, now=now)
        read = read_file(tx, content=content, by=person, now=now)
    with database.writing() as tx:
        taken = take_upload(
            tx, fingerprint=fingerprint, good_rows=good_rows == "yes", by=person, now=now, read=read
        )
    return done(f"/{person.agency}/fleet", taken_words(**vars(taken)))
