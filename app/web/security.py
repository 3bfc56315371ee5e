"""Headers on every answer, and no change on behalf of another site."""

from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from fastapi import Request, Response
from starlette.responses import PlainTextResponse

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
}
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})


async def guard(request: Request, call_next: Callable[[Request], Awaitable[Response]]) -> Response:
    if request.method not in SAFE and not from_this_site(request):
        response: Response = PlainTextResponse(
            "This change came from another site and was refused.", status_code=403
        )
    else:
        response = await call_next(request)
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    response.headers.setdefault("Cache-Control", "no-store")
    if request.app.state.settings.secure_cookies:
        response.headers.setdefault("Strict-Transport-Security", "max-age=31536000")
    return response


def from_this_site(request: Request) -> bool:
    """Browsers tell where a request comes from; a program that tells nothing has no cookie jar
    that another site could borrow."""
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = request.headers.get("origin")
    return origin is None or urlsplit(origin).netloc == request.headers.get("host")
