"""The front door: where to go first, signing in and out, the first administrator, the theme."""

from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, ConfigDict

from app.actions import people as people_actions
from app.actions import sign_ins
from app.domain.agencies import NewAgency
from app.domain.errors import Fault, NotAllowed, NotSignedIn, Refused, TooMany
from app.domain.permissions import Deed, may
from app.domain.revision_warnings import RevisionWarning
from app.domain.revisions import RevisionLine
from app.lookups.agencies import setup_link_works
from app.lookups.revision_warnings import policy_warnings
from app.lookups.seen_revisions import to_be_seen
from app.web.notices import done
from app.web.places_to_go import Place, places_for
from app.web.render import THEME_COOKIE, THEMES, render
from app.web.sessions import COOKIE, MaybePerson, Member, local_path, set_session
from app.web.transactions import Now, Reading, Writing

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]


@dataclass(frozen=True)
class FrontPage:
    """Typed values come back with what was wrong; passwords never do."""

    typed: dict[str, str] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    message: str = ""
    next: str = "/"
    token: str = ""


class SetUpForm(BaseModel):
    model_config = ConfigDict(extra="forbid", str_max_length=1000)

    agency_key: str = ""
    agency_name: str = ""
    time_zone: str = ""
    username: str = ""
    name: str = ""
    password: str = ""


@dataclass(frozen=True)
class HomePage:
    """`warnings` for those who write, review and sign the policy; `unseen` for the crew."""

    places: list[Place]
    warnings: tuple[RevisionWarning, ...]
    unseen: tuple[RevisionLine, ...]


@router.get("/")
def front(request: Request, person: MaybePerson) -> Response:
    if person is not None:
        return RedirectResponse(f"/{person.agency}/", status_code=303)
    return render(request, "front.html", FrontPage())


@router.get("/sign-in")
def sign_in_page(request: Request, next: str = "/", agency: str = "") -> Response:  # noqa: A002 - the name in the address
    wanted = local_path(next)
    named = wanted.split("/")[1]
    typed = {"agency": agency or named}
    return render(request, "sign_in.html", FrontPage(typed, next=wanted))


@router.post("/sign-in")
def sign_in(
    request: Request,
    now: Now,
    agency: Text = "",
    username: Text = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    next: Text = "/",  # noqa: A002 - the field's name
) -> Response:
    # Not through the Writing dependency: a refusal is shown on the page, and its count is kept.
    try:
        with request.app.state.database.writing() as tx:
            token = sign_ins.sign_in(
                tx,
                agency=agency.strip(),
                username=username,
                password=password,
                now=now,
                address=request.client.host if request.client else "",
                lasts=request.app.state.settings.session_lasts,
            )
    except (NotSignedIn, TooMany, Refused) as error:
        page = FrontPage(
            {"agency": agency, "username": username}, message=error.message, next=local_path(next)
        )
        return render(request, "sign_in.html", page, status=error.status)
    response = RedirectResponse(_after_sign_in(local_path(next), agency.strip()), status_code=303)
    set_session(request, response, token)
    return response


def _after_sign_in(wanted: str, agency: str) -> str:
    return wanted if wanted.startswith(f"/{agency}/") else f"/{agency}/"


@router.post("/sign-out")
def sign_out(request: Request, tx: Writing, now: Now) -> Response:
    token = request.cookies.get(COOKIE)
    if token:
        sign_ins.sign_out(tx, token=token, now=now)
    response = RedirectResponse("/", status_code=303)
    response.delete_cookie(COOKIE)
    return response


@router.post("/theme")
def choose_theme(theme: Text = "auto", next: Text = "/") -> Response:  # noqa: A002 - the field's name
    response = RedirectResponse(local_path(next), status_code=303)
    chosen = theme if theme in THEMES else "auto"
    response.set_cookie(THEME_COOKIE, chosen, max_age=31_536_000, samesite="lax", httponly=True)
    return response


@router.get("/setup/{token}")
def set_up_page(request: Request, token: str, tx: Reading, now: Now) -> Response:
    if not setup_link_works(tx, token=token, now=now):
        raise NotAllowed("This link is used up, too old or mistyped. Restart the service for one.")
    return render(request, "set_up.html", FrontPage({"time_zone": "UTC"}, token=token))


@router.post("/setup/{token}")
def set_up(
    request: Request,
    token: str,
    now: Now,
    form: Annotated[SetUpForm, Form()],
) -> Response:
    key = form.agency_key.strip()
    try:
        with request.app.state.database.writing() as tx:
            people_actions.first_administrator(
                tx,
                token=token,
                agency=NewAgency(key, form.agency_name, form.time_zone.strip()),
                username=form.username,
                name=form.name,
                password=form.password,
                now=now,
                leaks=request.app.state.settings.leaked_passwords,
            )
    except Refused as refused:
        typed = form.model_dump(exclude={"password"})
        page = FrontPage(typed, refused.faults, refused.message, token=token)
        return render(request, "set_up.html", page, status=422)
    return done(f"/sign-in?agency={key}", "Agency and account are made. Sign in with them.")


@router.get("/{agency}/")
def home(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    told = may(person, Deed.COMMENT)
    warnings = policy_warnings(tx, agency_id=person.agency_id, now=now) if told else ()
    unseen = to_be_seen(tx, person=person, now=now)
    return render(request, "home.html", HomePage(places_for(person), warnings, unseen))
