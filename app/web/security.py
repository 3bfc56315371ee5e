"""Headers on every answer, and no change on behalf of another site."""

import re
from collections.abc import Callable
from urllib.parse import urlsplit

from fastapi import Request, Response
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.domain.errors import MarchstoneError, NotAllowed
from app.web.host_cookies import bare_names, keep_to_host

CONTENT_POLICY = "; ".join(
    [
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY = 2**20
"""Bytes of a form."""
LARGEST_FILE = 32 * 2**20
"""Bytes of a file of a policy. It is read in memory, so several at once must fit a small server."""
LARGEST_READINGS = 256 * 2**20
"""Bytes of a file of readings or of trends, which waits on the disk and is read piece by piece."""
TAKES_READINGS = re.compile(
    r"/[^/]+/(fleet/readings|recordings)|/api/v1/[^/]+/(readings|recordings)", re.ASCII
)
TAKES_FILES = re.compile(
    r"/api/v1/[^/]+/reports/batch|/[^/]+/policy/(\d+/)?upload|/api/v1/[^/]+/revisions", re.ASCII
)


class TooLarge(MarchstoneError):
    status = 413
    title = "Too much at once"


class NoLength(MarchstoneError):
    status = 411
    title = "How long is it?"


class Guard:
    """Stands in front of everything; `refuse` writes the answer to what it does not let in."""

    def __init__(
        self, app: ASGIApp, *, refuse: Callable[[Request, MarchstoneError], Response]
    ) -> None:
        self._app, self._refuse = app, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        # Made here so that whoever answers, even the last resort for a failure, sees the same.
        scope.setdefault("state", {})
        if scope["app"].state.settings.secure_cookies:
            scope["headers"] = bare_names(scope["headers"])
        request = Request(scope)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_headers(request, MutableHeaders(scope=message))
            await send(message)

        error = unwelcome(request)
        if error is not None:
            request.state.person = None  # nobody is asked for: this may be another site
        answer = self._app if error is None else self._refuse(request, error)
        await answer(scope, receive, send_with_headers)


def add_headers(request: Request, headers: MutableHeaders) -> None:
    for name, value in HEADERS.items():
        headers.setdefault(name, value)
    _lead_within(request, headers)
    if request.app.state.settings.secure_cookies:
        headers.setdefault("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
        keep_to_host(headers)


def _lead_within(request: Request, headers: MutableHeaders) -> None:
    """The framework leads from `/help` to `/help/` under the name that somebody asked for, which
    may be any, and without the https of a proxy. Whoever asks knows where that was."""
    here = f"{request.url.scheme}://{request.headers.get('host', '')}/"
    if headers.get("location", "").startswith(here):
        headers["Location"] = "/" + headers["location"][len(here) :].lstrip("/\\")


def unwelcome(request: Request) -> MarchstoneError | None:
    if request.method in SAFE:
        return None
    if not from_this_site(request):
        return NotAllowed("This change came from another site, so it was refused.")
    return _too_long(request)


def _too_long(request: Request) -> MarchstoneError | None:
    length = request.headers.get("content-length", "")
    if "transfer-encoding" in request.headers:
        return NoLength("Say with Content-Length how long the text is.")
    most = _most(request.url.path)
    if length.isascii() and length.isdigit() and int(length) > most:
        return TooLarge(f"At most {most // 1024} KiB can be sent here.")
    return None


def _most(path: str) -> int:
    if TAKES_READINGS.fullmatch(path):
        return LARGEST_READINGS
    return LARGEST_FILE if TAKES_FILES.fullmatch(path) else LARGEST_BODY


def from_this_site(request: Request) -> bool:
    """Browsers tell where a request comes from; a program that tells nothing has no cookie jar
    that another site could borrow."""
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = request.headers.get("origin")
    return origin is None or urlsplit(origin).netloc in _own_hosts(request)


def _own_hosts(request: Request) -> set[str]:
    """A proxy may ask under another name than the one that people typed."""
    public = urlsplit(request.app.state.settings.public_url).netloc
    return {request.headers.get("host", ""), public} - {""}
