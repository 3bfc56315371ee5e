"""What was just done, told once on the page to which a form leads."""

from urllib.parse import quote, unquote

from fastapi import Request
from fastapi.responses import RedirectResponse

COOKIE = "marchstone_notice"
_SECONDS = 60


def done(address: str, notice: str) -> RedirectResponse:
    response = RedirectResponse(address, status_code=303)
    response.set_cookie(
        COOKIE, quote(notice, safe=""), max_age=_SECONDS, httponly=True, samesite="lax"
    )
    return response


def notice_in(request: Request) -> str:
    """Empty on a fragment: its page has told it already, or will."""
    if "hx-request" in request.headers:
        return ""
    return unquote(request.cookies.get(COOKIE, ""))
