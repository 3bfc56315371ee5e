"""A file of readings: choose it, see what it would change, then take it in."""

from dataclasses import dataclass
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from app.actions.long_work import ask_to_take_held, is_long
from app.actions.report_files import held_upload, hold_upload, read_file, take_upload
from app.domain.audit import DeviceDeviation
from app.domain.errors import Fault, Refused
from app.domain.option_judgement import preset_words
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import is_printable
from app.exchange.deviation_words import consequence
from app.exchange.fault_csv import fault_csv
from app.exchange.report_sources import OtherColumns, can_be_mapped
from app.lookups.report_files import FilePreview, held_file, preview_file
from app.web.long_work import ASKED, taken_words
from app.web.notices import done
from app.web.render import render
from app.web.security import LARGEST_READINGS
from app.web.sessions import Member
from app.web.transactions import Now

router = APIRouter()
LONGEST_NAME = 100
MOST_FAULTS_SHOWN = 100
_OTHER = "The columns of this file are not ours. Say which of them stands for which of ours."


@dataclass(frozen=True)
class ChoosePage:
    most_mib: int = LARGEST_READINGS // 2**20
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class ToldDeviation:
    where: str
    sentence: str
    severity: str
    direction: str


@dataclass(frozen=True)
class PreviewPage:
    file: FilePreview
    told: list[ToldDeviation]
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
        found = _previewed(request.app.state.database, chosen, person, now)
    except OtherColumns:
        return done(f"/{person.agency}/fleet/readings/columns", _OTHER)
    except Refused as refused:
        page = ChoosePage(faults=refused.faults)
        return render(request, "fleet/readings.html", page, status=422)
    return preview_page(request, found)


def preview_page(request: Request, found: FilePreview) -> Response:
    page_shown = PreviewPage(
        found, [_told(one) for one in found.deviations], found.faults[:MOST_FAULTS_SHOWN]
    )
    status = 200 if found.takes else 422
    return render(request, "fleet/readings_preview.html", page_shown, status=status)


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


def _told(found: DeviceDeviation) -> ToldDeviation:
    ages = "" if found.rendered is None else f" ({found.rendered.ages})"
    return ToldDeviation(
        where=f"{found.device}, {found.state_read}, {preset_words(found.preset)}{ages}",
        sentence=consequence(found),
        severity=found.deviation.severity.value,
        direction=found.deviation.direction.value,
    )


@router.get("/{agency}/fleet/readings/look")
def look_again(request: Request, person: Member, now: Now) -> Response:
    """At the file that is held for this person, as it would be read now."""
    return preview_page(request, _held(request.app.state.database, person, now))


def _held(database: Any, person: Person, now: Any) -> FilePreview:
    check_may(person, Deed.UPLOAD_READINGS)
    with database.reading() as tx:
        held = held_file(tx, of=person, now=now)
        read = read_file(tx, content=held.content, by=person, now=now)
    return preview_file(read, name=held.name)


@router.get("/{agency}/fleet/readings/refused.csv")
def refused_rows(request: Request, person: Member, now: Now) -> Response:
    found = _held(request.app.state.database, person, now)
    headers = {"Content-Disposition": 'attachment; filename="refused-rows.csv"'}
    return Response(fault_csv(found.faults), media_type="text/csv", headers=headers)


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
