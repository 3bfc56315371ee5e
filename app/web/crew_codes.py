"""The crew code: asked for once a phone, where an agency wants it before the open look-up."""

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.crew_codes import enter_crew_code, remove_crew_code, set_crew_code
from app.domain.agencies import Agency
from app.domain.errors import NotSignedIn, Refused, TooMany
from app.domain.people import Person
from app.lookups.crew_codes import lets_in
from app.web.notices import done
from app.web.render import render
from app.web.sessions import MaybePerson, Member, local_path
from app.web.transactions import Now, Writing

router = APIRouter(prefix="/{agency}")
COOKIE = "marchstone_crew"
_DAYS = 400  # as long as browsers keep any cookie
Text = Annotated[str, Form(max_length=300)]


class CrewCodeNeeded(NotSignedIn):
    title = "A crew code is needed"


@dataclass(frozen=True)
class CodePage:
    agency: Agency
    next: str
    wrong: str = ""


def check_crew(request: Request, tx: Any, owner: Agency) -> None:
    """Raises CrewCodeNeeded for whoever is neither of the agency nor knows its crew code."""
    person: Person | None = request.state.person
    if person is not None and person.agency_id == owner.id:
        return
    if not lets_in(tx, agency_id=owner.id, carried=request.cookies.get(_name(owner), "")):
        raise CrewCodeNeeded(f"{owner.name} asks for its crew code before the look-up.")


def crew_code_address(request: Request) -> str:
    wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return f"/{wanted.split('/')[1]}/limits/code?next={quote(wanted, safe='/')}"


@router.get("/limits/code")
def code_page(
    request: Request,
    _: MaybePerson,
    agency: str,
    next: str = "",  # noqa: A002 - the name in the address
) -> Response:
    owner = request.app.state.agencies.of(agency)
    return _ask(request, CodePage(owner, _within(owner, next)))


@router.post("/limits/code")
def enter(
    request: Request,
    _: MaybePerson,
    now: Now,
    agency: str,
    code: Text = "",
    next: Text = "",  # noqa: A002 - the field's name
) -> Response:
    owner = request.app.state.agencies.of(agency)
    onward = _within(owner, next)
    address = request.client.host if request.client else ""
    try:
        with request.app.state.database.writing() as tx:
            carried = enter_crew_code(tx, agency=owner, code=code, address=address, now=now)
    except Refused as refused:
        page = CodePage(owner, onward, refused.faults[0].reason)
        return _ask(request, page, status=refused.status)
    except TooMany as error:
        return _ask(request, CodePage(owner, onward, error.message), status=error.status)
    response = RedirectResponse(onward, status_code=303)
    if carried is not None:
        response.set_cookie(
            _name(owner),
            carried,
            max_age=_DAYS * 86_400,
            httponly=True,
            secure=request.app.state.settings.secure_cookies,
            samesite="lax",
        )
    return response


def _name(owner: Agency) -> str:
    return f"{COOKIE}_{owner.key}"


def _within(owner: Agency, wanted: str) -> str:
    path = local_path(wanted)
    return path if path.startswith(f"/{owner.key}/") else f"/{owner.key}/limits"


def _ask(request: Request, page: CodePage, *, status: int = 200) -> Response:
    owner = page.agency
    return render(
        request,
        "limits/code.html",
        page,
        status=status,
        agency_name=owner.name,
        zone=owner.time_zone,
    )


@router.post("/choices/crew-code")
def choose_code(person: Member, tx: Writing, now: Now, crew_code: Text = "") -> Response:
    set_crew_code(tx, code=crew_code, by=person, now=now)
    said = "The crew code is set. Tell it to every crew: phones that knew another ask for it now."
    return done(f"/{person.agency}/choices", said)


@router.post("/choices/crew-code/remove")
def remove_code(person: Member, tx: Writing, now: Now) -> Response:
    remove_crew_code(tx, by=person, now=now)
    return done(f"/{person.agency}/choices", "No crew code is asked for any more.")
