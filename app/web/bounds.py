"""The agency's outer bounds: what judges, its versions, a draft out of a file, adopting one."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import Response

from app.actions.outer_bounds import draft_bounds, sign_bounds
from app.domain.bounds_changes import BoundChange, beyond, label_of
from app.domain.bounds_proof import BoundsProof, bounds_proof
from app.domain.bounds_versions import BoundsStatus, check_can_sign
from app.domain.comparison import Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import Fault, NotAllowed, Refused, TooMany
from app.domain.outer_bounds import OuterBound
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.exchange.bounds_csv import MOST_BYTES, text_of, write_bounds
from app.lookups.outer_bounds import AgencyBounds, OpenBounds, agency_bounds, open_bounds
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import SigningEntry, beside_fields, zone_of
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/bounds")
_LEANS = {
    Direction.LOOSER: "looser",
    Direction.TIGHTER: "tighter",
    Direction.OTHER: "without effect",
}


@dataclass(frozen=True)
class BoundsPage:
    """`typed` is the file as it was refused, to be corrected here."""

    found: AgencyBounds
    can_draft: bool
    typed: str = ""
    file_name: str = ""
    faults: tuple[Fault, ...] = ()
    label: Callable[[OuterBound], str] = label_of
    beyond: Callable[[OuterBound], str] = beyond


@router.get("")
def bounds(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = agency_bounds(tx, agency_id=person.agency_id, now=now)
    return render(request, "bounds/list.html", BoundsPage(found, may(person, Deed.EDIT_DRAFT)))


@router.post("")
def draft(
    request: Request,
    person: Member,
    now: Now,
    bounds: Annotated[UploadFile | None, File()] = None,
    text: Annotated[str, Form(max_length=MOST_BYTES)] = "",
) -> Response:
    """A file, or the text in the box where no file was chosen."""
    check_may(person, Deed.EDIT_DRAFT)
    database = request.app.state.database
    chosen = bounds if bounds is not None and bounds.filename else None
    try:
        if chosen is not None:
            text = text_of(chosen.file.read(MOST_BYTES + 1))
        with database.writing() as tx:
            drafted = draft_bounds(tx, text=text, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            found = agency_bounds(tx, agency_id=person.agency_id, now=now)
        name = "The text" if chosen is None else chosen.filename or "The file"
        page = BoundsPage(found, can_draft=True, typed=text, file_name=name, faults=refused.faults)
        return render(request, "bounds/list.html", page, status=422)
    return done(_base(person, drafted.number), f"Version {drafted.number} was drafted.")


def _base(person: Person, number: int) -> str:
    return f"/{person.agency}/bounds/{number}"


@router.get("/default.csv")
def download_default(person: Member) -> Response:
    """To start from."""
    check_may(person, Deed.SEE_POLICY)
    return _file(write_bounds(DEFAULT_BOUNDS), "default-outer-bounds.csv")


@router.get("/{number}/bounds.csv")
def download(person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_bounds(tx, agency_id=person.agency_id, number=number, now=now)
    name = f"{person.agency}-outer-bounds-{number}.csv"
    return _file(found.listed.version.text, name)


def _file(text: str, name: str) -> Response:
    return Response(
        text,
        media_type="text/csv",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@dataclass(frozen=True)
class VersionPage:
    base: str
    found: OpenBounds
    can_sign: bool
    can_edit: bool
    can_draft: bool
    default: str = DEFAULT_BOUNDS.name
    label: Callable[[OuterBound], str] = label_of
    beyond: Callable[[OuterBound], str] = beyond

    @property
    def counted(self) -> str:
        return counted(self.found.against_in_force)

    @property
    def proof(self) -> BoundsProof:
        return bounds_proof(self.found.bounds)


def counted(changes: tuple[BoundChange, ...]) -> str:
    """How many bounds lean which way: 2 looser, 1 tighter."""
    leans = Counter(change.lean for change in changes)
    return ", ".join(f"{leans[lean]} {words}" for lean, words in _LEANS.items() if leans[lean])


@router.get("/{number}")
def version(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_bounds(tx, agency_id=person.agency_id, number=number, now=now)
    signable = found.listed.status is BoundsStatus.DRAFT and may(person, Deed.SIGN_REVISION)
    drafts = may(person, Deed.EDIT_DRAFT)
    author = found.listed.version.author.person_id == person.id
    editable = drafts and author and found.listed.status is BoundsStatus.DRAFT
    page = VersionPage(_base(person, number), found, signable, editable, drafts)
    return render(request, "bounds/version.html", page)


@dataclass(frozen=True)
class SignBoundsPage:
    """`in_the_way`: why this person cannot sign it; the password never comes back."""

    base: str
    found: OpenBounds
    in_the_way: str
    entry: SigningEntry
    zone: str
    faults: tuple[Fault, ...] = ()

    @property
    def counted(self) -> str:
        return counted(self.found.against_in_force)


@router.get("/{number}/sign")
def sign_page(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    page = _signing(request, tx, person, now, number=number, entry=SigningEntry())
    return render(request, "bounds/sign.html", page)


def _signing(
    request: Request,
    tx: Transaction,
    person: Person,
    now: datetime,
    *,
    number: int,
    entry: SigningEntry,
    faults: tuple[Fault, ...] = (),
) -> SignBoundsPage:
    check_may(person, Deed.SIGN_REVISION)
    found = open_bounds(tx, agency_id=person.agency_id, number=number, now=now)
    versions = [listed.version for listed in found.all_versions]
    in_the_way = ""
    try:
        check_can_sign(versions, found.listed.version, signer=person.id)
    except NotAllowed as refused:
        in_the_way = refused.message
    return SignBoundsPage(
        _base(person, number),
        found,
        in_the_way,
        entry.without_password(),
        zone_of(request, person),
        faults,
    )


@router.post("/{number}/sign")
def sign(
    request: Request, person: Member, now: Now, number: int, entry: Annotated[SigningEntry, Form()]
) -> Response:
    # Not through the Writing dependency: a wrong password is told on the page, and it counts.
    database = request.app.state.database
    try:
        begins = entry.begins_at(zone_of(request, person))
        with database.writing() as tx:
            signed = sign_bounds(
                tx,
                number=number,
                fingerprint=entry.fingerprint,
                meaning=entry.meaning,
                password=entry.password,
                by=person,
                now=now,
                in_force_at=begins,
            )
    except (Refused, TooMany) as refused:
        faults = beside_fields(refused)
        with database.reading() as tx:
            page = _signing(request, tx, person, now, number=number, entry=entry, faults=faults)
        return render(request, "bounds/sign.html", page, status=refused.status)
    return done(_base(person, number), f"Version {signed.number} of the outer bounds is signed.")
