"""A file of readings: choose it, see what it would change, then take it in."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from app.actions.report_files import Taken, hold_upload, take_upload
from app.domain.audit import DeviceDeviation
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import is_printable
from app.exchange.deviation_words import consequence
from app.lookups.report_files import FilePreview, preview_file
from app.web.notices import done
from app.web.render import render
from app.web.security import LARGEST_FILE
from app.web.sessions import Member
from app.web.transactions import Now

router = APIRouter()
LONGEST_NAME = 100


@dataclass(frozen=True)
class ChoosePage:
    most_mib: int = LARGEST_FILE // 2**20
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


@dataclass(frozen=True)
class Chosen:
    name: str
    content: bytes


async def _chosen(request: Request, person: Member) -> Chosen:
    """Asked for after the person, so that nobody else's file is read."""
    check_may(person, Deed.UPLOAD_READINGS)
    file = (await request.form()).get("file")
    if not isinstance(file, UploadFile):
        return Chosen("", b"")
    name = (file.filename or "").replace("\\", "/").rpartition("/")[2][:LONGEST_NAME].strip()
    return Chosen(name if is_printable(name) else "", await file.read())


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
    except Refused as refused:
        page = ChoosePage(faults=refused.faults)
        return render(request, "fleet/readings.html", page, status=422)
    page_shown = PreviewPage(found, [_told(one) for one in found.deviations])
    status = 200 if found.takes else 422
    return render(request, "fleet/readings_preview.html", page_shown, status=status)


def _previewed(database: Any, chosen: Chosen, person: Person, now: Any) -> FilePreview:
    if not chosen.content:
        raise Refused.because("choose a file that is not empty", column="file")
    with database.reading() as tx:
        found = preview_file(
            tx,
            agency_id=person.agency_id,
            name=chosen.name or "the file",
            content=chosen.content,
            now=now,
        )
    if found.takes:
        with database.writing() as tx:
            hold_upload(tx, name=found.name, content=chosen.content, by=person, now=now)
    return found


def _told(found: DeviceDeviation) -> ToldDeviation:
    ages = "" if found.rendered is None else f" ({found.rendered.ages})"
    return ToldDeviation(
        where=f"{found.device}, {found.state_read}, {found.preset}{ages}",
        sentence=consequence(found),
        severity=found.deviation.severity.value,
        direction=found.deviation.direction.value,
    )


@router.post("/{agency}/fleet/readings/take")
def take(
    request: Request,
    person: Member,
    now: Now,
    fingerprint: Annotated[str, Form(max_length=64)] = "",
    good_rows: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    with request.app.state.database.writing() as tx:
        taken = take_upload(
            tx, fingerprint=fingerprint, good_rows=good_rows == "yes", by=person, now=now
        )
    return done(f"/{person.agency}/fleet", _in_words(taken))


def _in_words(taken: Taken) -> str:
    words = [f"{taken.new} reports with {taken.readings} readings were taken in"]
    if taken.known:
        words.append(f"{taken.known} were known already")
    if taken.refused:
        words.append(f"{taken.refused} rows were left out")
    return f"{'; '.join(words)}."
