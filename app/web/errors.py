"""Refusals as a whole page, as a fragment for htmx, or as problem details (RFC 9457)."""

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from app.domain.errors import Fault, MarchstoneError, NotSignedIn, Refused, TooMany
from app.web.crew_codes import CrewCodeNeeded, crew_code_address
from app.web.render import render
from app.web.security import SAFE, add_headers
from app.web.sessions import maybe_person, sign_in_address
from app.web.typed import Typed, typed_in

ADVICE = {
    400: "Go back and try again.",
    401: "You were signed out: by the button, after a while without work, or at the end of the "
    "day. Sign in, then go on.",
    403: "Ask somebody with the right role, or an administrator for the role.",
    404: "Check the address: it may be mistyped, or the thing may be gone. Things of another "
    "agency are not shown either.",
    405: "Go back and use the buttons of the page.",
    409: "Nothing was lost. Look at what changed, then decide again.",
    413: "Send less at once.",
    422: "Nothing was stored. Go back, mend what is named and send it again.",
    429: "Wait, then try again.",
    500: "Nothing was stored. Try again; if it fails again, tell whoever runs this service "
    "when it happened.",
    503: "Nothing was stored. Wait a moment and send it again; what you typed is below.",
    507: "Nothing was stored. Tell whoever runs this service that the disk is full; send it again "
    "once there is room.",
}
WORTH_REPEATING = frozenset({401, 429, 500, 503, 507})
"""The same thing sent again may well succeed, once somebody has signed in or waited."""


@dataclass(frozen=True)
class ErrorPage:
    """`again`: the address to which `typed` can be sent once more, "" where that is no use."""

    status: int
    title: str
    message: str
    advice: str
    faults: tuple[Fault, ...] = ()
    typed: Typed = ()
    again: str = ""


def install_error_pages(app: FastAPI) -> None:
    app.add_exception_handler(MarchstoneError, _refusal)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _our_failure)


def refusal(request: Request, error: MarchstoneError) -> Response:
    faults = error.faults if isinstance(error, Refused) else ()
    answer = _answer(request, error.status, error.title, error.message, faults)
    if isinstance(error, TooMany) and error.seconds is not None:
        answer.headers["Retry-After"] = str(error.seconds)
    return answer


def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, MarchstoneError)  # noqa: S101 - what it is registered for
    # Only a look may be turned into another look: a redirect would lose what was sent.
    only_a_look = request.method in SAFE and not (_is_api(request) or _by_htmx(request))
    if isinstance(error, CrewCodeNeeded) and only_a_look and request.url.path.endswith(".json"):
        return problem(error.status, error.title, error.message)
    if isinstance(error, CrewCodeNeeded) and only_a_look:
        return RedirectResponse(crew_code_address(request), status_code=303)
    if isinstance(error, NotSignedIn) and only_a_look:
        return RedirectResponse(sign_in_address(request), status_code=303)
    return refusal(request, error)


def _malformed(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)  # noqa: S101 - what it is registered for
    faults = tuple(
        Fault(str(one["msg"]), column=".".join(str(step) for step in one["loc"][1:]) or None)
        for one in error.errors()
    )
    return _answer(request, 422, Refused.title, "; ".join(map(str, faults)), faults)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101 - what it is registered for
    if error.status_code == HTTPStatus.BAD_REQUEST and _is_api(request):
        # A body that is no text, or a number beyond reading; one that is no JSON: `_malformed`.
        told = "send JSON in UTF-8, and no number of thousands of digits"
        return refusal(request, Refused.because(told, column="body"))
    phrase = HTTPStatus(error.status_code).phrase.capitalize()
    message = "There is no such page." if error.status_code == HTTPStatus.NOT_FOUND else phrase
    answer = _answer(request, error.status_code, phrase, message)
    answer.headers.update(error.headers or {})
    return answer


def _our_failure(request: Request, _: Exception) -> Response:
    answer = _answer(request, 500, "Our failure", "Something failed here; the fault is ours.")
    # This answer is sent from outside of the guard that gives every other one its headers.
    add_headers(request, answer.headers)
    return answer


def _answer(
    request: Request, status: int, title: str, message: str, faults: tuple[Fault, ...] = ()
) -> Response:
    if _is_api(request):
        return problem(status, title, message, faults)
    _know_who(request)
    page = ErrorPage(
        status=status,
        title=title,
        message=message,
        advice=ADVICE.get(status, ADVICE[400]),
        faults=faults,
        typed=typed_in(request),
        again=request.url.path if status in WORTH_REPEATING else "",
    )
    if not _by_htmx(request):
        return render(request, "error.html", page, status=status)
    answer = render(request, "_error.html", page, status=status)
    # Never in the place of what was asked for: that would take the form away from its page.
    answer.headers.update({"HX-Retarget": "#told", "HX-Reswap": "innerHTML"})
    return answer


def _know_who(request: Request) -> None:
    """An address that no page has asks nobody who it is, yet its frame shows it."""
    if hasattr(request.state, "person"):
        return
    try:
        maybe_person(request)
    except Exception:
        # Whatever fails here failed before, and that is being told already.
        request.state.person = None


def _by_htmx(request: Request) -> bool:
    return "hx-request" in request.headers


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/")


def problem(status: int, title: str, detail: str, faults: tuple[Fault, ...] = ()) -> JSONResponse:
    body: dict[str, Any] = {"type": "about:blank", "title": title, "status": status}
    body["detail"] = detail
    if faults:
        body["errors"] = [
            {
                "line": fault.line,
                "column": fault.column,
                "value": fault.value if _plain(fault.value) else str(fault.value),
                "reason": fault.reason,
            }
            for fault in faults
        ]
    return JSONResponse(body, status_code=status, media_type="application/problem+json")


def _plain(value: object) -> bool:
    return value is None or isinstance(value, str | int | float | bool)
