"""Who is asking: the session cookie, and the agency that stands in the address."""

from typing import Annotated
from urllib.parse import quote

from fastapi import Depends, Request, Response

from app.actions.sign_ins import keep_signed_in
from app.domain.errors import NotFound, NotSignedIn
from app.domain.people import Person
from app.lookups.sign_ins import signed_in

COOKIE = "marchstone_session"


def maybe_person(request: Request) -> Person | None:
    """Looked up once a request; the page's frame shows it."""
    token = request.cookies.get(COOKIE)
    request.state.person = None
    if token:
        state = request.app.state
        with state.database.reading() as tx:
            found = signed_in(tx, token=token, now=state.clock(), idle=state.settings.session_idle)
        if found is not None:
            request.state.person = found.person
            if found.renew:
                with state.database.writing() as tx:
                    keep_signed_in(tx, token=token, now=state.clock())
    person: Person | None = request.state.person
    return person


MaybePerson = Annotated[Person | None, Depends(maybe_person)]


def _member(request: Request, person: MaybePerson) -> Person:
    """Somebody of the agency in the address; of any other agency there is nothing to find."""
    if person is None:
        raise NotSignedIn("Please sign in to see this page.")
    if request.path_params.get("agency", person.agency) != person.agency:
        raise NotFound("There is no such page.")
    return person


Member = Annotated[Person, Depends(_member)]


def set_session(request: Request, response: Response, token: str) -> None:
    settings = request.app.state.settings
    response.set_cookie(
        COOKIE,
        token,
        max_age=int(settings.session_lasts.total_seconds()),
        httponly=True,
        secure=settings.secure_cookies,
        samesite="lax",
    )


def sign_in_address(request: Request) -> str:
    """The sign-in page, which leads back to where somebody wanted to go."""
    wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return f"/sign-in?next={quote(wanted, safe='/')}" if request.method == "GET" else "/sign-in"


def local_path(text: str | None) -> str:
    """A path of this service to go on to; anything else leads home."""
    if text is None or not text.startswith("/") or text.startswith("//"):
        return "/"
    # Browsers read a backslash as a slash, and leave out tabs and line breaks before they look.
    return text if text.isprintable() and "\\" not in text else "/"
