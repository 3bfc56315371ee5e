"""The library of recorded trends: what drafts are replayed against."""

from dataclasses import dataclass, field
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from app.actions.recordings import add_recording, add_synthetic, pack_trends, remove_recording
from app.domain.errors import Fault, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.recordings import MOST_SAMPLES, NewRecording, Recording, check_size
from app.domain.synthetic_cohort import MOST_HOURS, MOST_PATIENTS, Assumed
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.trend_columns import check_patients
from app.exchange.trends_files import read_trends_file
from app.lookups.evidence import all_recordings, categories_to_record
from app.web.notices import done
from app.web.render import render
from app.web.security import LARGEST_READINGS
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/recordings")
Text = Annotated[str, Form(max_length=600)]
_TYPED = {"name": "", "category": "", "origin": "", "patients": "40", "hours": "1"}


@dataclass(frozen=True)
class RecordingsPage:
    """`faults` of the file above, `invented_faults` of the cohort below it."""

    recordings: list[Recording]
    categories: list[PatientCategory]
    may_keep: bool
    typed: dict[str, str] = field(default_factory=lambda: dict(_TYPED))
    faults: tuple[Fault, ...] = ()
    invented_faults: tuple[Fault, ...] = ()
    most_mib: int = LARGEST_READINGS // 2**20
    most_samples: int = MOST_SAMPLES
    most_patients: int = MOST_PATIENTS
    most_hours: int = MOST_HOURS

    @property
    def vital_signs(self) -> list[str]:
        return list(VITAL_SIGNS)

    def label(self, category: str) -> str:
        return next((one.label for one in self.categories if one.key == category), category)

    def signs(self, recording: Recording) -> str:
        return ", ".join(VITAL_SIGNS[key].label for key in recording.vital_signs)


@dataclass(frozen=True)
class Sent:
    """What a form of the upload holds; `content` None: no file was chosen."""

    typed: dict[str, str]
    content: BinaryIO | None


async def _sent(request: Request, person: Member) -> Sent:
    """Asked for after the person, so that nobody else's file is read."""
    check_may(person, Deed.KEEP_RECORDINGS)
    form = await request.form()
    typed = {
        name: value[:600]
        for name in ("name", "category", "origin")
        if isinstance(value := form.get(name), str)
    }
    file = form.get("file")
    content = file.file if isinstance(file, UploadFile) and file.size else None
    return Sent(_TYPED | typed, content)


@router.get("")
def recordings(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_POLICY)
    return render(request, "recordings/list.html", _page(tx, person, now))


def _page(tx: Transaction, person: Person, now: Any, **more: Any) -> RecordingsPage:
    return RecordingsPage(
        all_recordings(tx, agency_id=person.agency_id),
        categories_to_record(tx, agency_id=person.agency_id, now=now),
        may(person, Deed.KEEP_RECORDINGS),
        **more,
    )


def _refused(request: Request, person: Person, now: Any, **more: Any) -> Response:
    with request.app.state.database.reading() as tx:
        page = _page(tx, person, now, **more)
    return render(request, "recordings/list.html", page, status=422)


@router.post("")
def upload(
    request: Request, person: Member, now: Now, sent: Annotated[Sent, Depends(_sent)]
) -> Response:
    database = request.app.state.database
    try:
        kept = _taken(database, sent, person, now)
    except Refused as refused:
        return _refused(request, person, now, typed=sent.typed, faults=refused.faults)
    told = f"{kept.patients} patient{'' if kept.patients == 1 else 's'}, {kept.hours:.1f} hours"
    return done(f"/{person.agency}/recordings", f"Recording {kept.number} is kept: {told}.")


def _taken(database: Any, sent: Sent, person: Person, now: Any) -> Recording:
    """Read and packed before anything is locked."""
    if sent.content is None:
        raise Refused.because("choose a file that is not empty", column="file")
    with database.reading() as tx:
        known = categories_to_record(tx, agency_id=person.agency_id, now=now)
    typed = sent.typed
    if typed["category"] not in {one.key for one in known}:
        raise Refused.because("choose the category of its patients", column="category")
    trends, names = read_trends_file(sent.content, frozenset(VITAL_SIGNS), check_size)
    check_patients(names)
    packed = pack_trends(trends)
    new = NewRecording(typed["name"], typed["category"], typed["origin"])
    with database.writing() as tx:
        return add_recording(tx, new, trends, packed, by=person, now=now)


@router.post("/synthetic")
def invent(
    request: Request,
    person: Member,
    now: Now,
    category: Text = "",
    patients: Text = "",
    hours: Text = "",
) -> Response:
    check_may(person, Deed.KEEP_RECORDINGS)
    typed = _TYPED | {"category": category, "patients": patients, "hours": hours}
    try:
        assumed = Assumed(patients=_whole(patients, "patients"), hours=_whole(hours, "hours"))
        with request.app.state.database.writing() as tx:
            kept = add_synthetic(tx, category, assumed, by=person, now=now)
    except Refused as refused:
        return _refused(request, person, now, typed=typed, invented_faults=refused.faults)
    told = f"Recording {kept.number} is invented, and marked as synthetic wherever it is used."
    return done(f"/{person.agency}/recordings", told)


def _whole(typed: str, column: str) -> int:
    if not (typed.strip().isascii() and typed.strip().isdigit() and len(typed.strip()) < 6):
        raise Refused.because("must be a whole number", column=column)
    return int(typed)


@router.post("/{number}/remove")
def remove(request: Request, person: Member, now: Now, number: int) -> Response:
    with request.app.state.database.writing() as tx:
        gone = remove_recording(tx, number=number, by=person, now=now)
    told = f"Recording {gone.number} is removed. What was told from it stays, with its fingerprint."
    return done(f"/{person.agency}/recordings", told)
