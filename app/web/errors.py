"""Refusals as a whole page, as a fragment for htmx, or as problem details (RFC 9457)."""

from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from app.domain.errors import Fault, MarchstoneError, NotSignedIn, Refused
from app.web.render import render
from app.web.sessions import sign_in_address

ADVICE = {
    400: "Go back and try again.",
    401: "Sign in, then come back to this page.",
    403: "Ask somebody with the right role, or an administrator for the role.",
    404: "Check the address. Things of another agency are not shown either.",
    405: "Go back and use the buttons of the page.",
    409: "Nothing was lost. Look at what changed, then decide again.",
    422: "Go back: nothing was stored. Mend what is named and send it again.",
    429: "Wait, then try again.",
    500: "Nothing was stored. Tell whoever runs this service when it happened.",
}


@dataclass(frozen=True)
class ErrorPage:
    status: int
    title: str
    message: str
    advice: str
    faults: tuple[Fault, ...] = field(default=())


def install_error_pages(app: FastAPI) -> None:
    app.add_exception_handler(MarchstoneError, _refusal)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _our_failure)


def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, MarchstoneError)  # noqa: S101 - what it is registered for
    wants_page = not _is_api(request) and "hx-request" not in request.headers
    if isinstance(error, NotSignedIn) and wants_page:
        return RedirectResponse(sign_in_address(request), status_code=303)
    faults = error.faults if isinstance(error, Refused) else ()
    return _answer(request, error.status, error.title, error.message, faults)


def _malformed(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)  # noqa: S101 - what it is registered for
    faults = tuple(
        Fault(str(one["msg"]), column=".".join(str(step) for step in one["loc"][1:]) or None)
        for one in error.errors()
    )
    return _answer(request, 422, Refused.title, "; ".join(map(str, faults)), faults)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101 - what it is registered for
    phrase = HTTPStatus(error.status_code).phrase
    message = "There is no such page." if error.status_code == 404 else phrase
    return _answer(request, error.status_code, phrase, message)


def _our_failure(request: Request, _: Exception) -> Response:
    return _answer(request, 500, "Something failed here", "The fault is ours, not yours.")


def _answer(
    request: Request, status: int, title: str, message: str, faults: tuple[Fault, ...] = ()
) -> Response:
    if _is_api(request):
        return problem(status, title, message, faults)
    advice = ADVICE.get(status, ADVICE[400])
    page = ErrorPage(status, title, message, advice, faults)
    fragment = "hx-request" in request.headers
    return render(request, "_error.html" if fragment else "error.html", page, status=status)


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
