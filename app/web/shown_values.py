"""A browser remembers for an hour of which devices it was shown what they hold.

A shift check from it is then no blind reading. Nothing is gained by forging this: it can only say
that a check is worth less, and whoever wants to hide it uses another phone.
"""

from datetime import UTC, datetime
from urllib.parse import parse_qsl, urlencode

from fastapi import Request
from fastapi.responses import Response

from app.domain.agencies import Agency
from app.domain.shift_checks import SEEN_FOR, seen_before

COOKIE = "marchstone_values"
NOT_LOOKED = "kept-only"
"""The header of a page that a phone keeps without showing it."""
_MOST = 10


def note_shown(
    response: Response, request: Request, owner: Agency, tag: str, now: datetime
) -> None:
    """Only sent along with labels and shift checks, so that the look-up stays the same for all.
    What a phone keeps in its queue tells it of itself."""
    if request.headers.get(NOT_LOOKED):
        return
    kept = {one: at for one, at in _shown(request).items() if seen_before(at, now)}
    kept = {tag: now, **{one: at for one, at in kept.items() if one != tag}}
    told = urlencode([(one, int(at.timestamp())) for one, at in list(kept.items())[:_MOST]])
    for path in (f"/{owner.key}/d", f"/{owner.key}/checks"):
        response.set_cookie(
            COOKIE,
            told,
            path=path,
            max_age=int(SEEN_FOR.total_seconds()),
            httponly=True,
            secure=request.app.state.settings.secure_cookies,
            samesite="lax",
        )


def shown_to(request: Request, tag: str, *, before: datetime) -> bool:
    """Whether this browser was shown the values of the device shortly before."""
    at = _shown(request).get(tag)
    return at is not None and at <= before and seen_before(at, before)


def _shown(request: Request) -> dict[str, datetime]:
    found = {}
    for tag, at in parse_qsl(request.cookies.get(COOKIE, "")):
        if at.isascii() and at.isdigit() and len(at) < 12:
            found[tag] = datetime.fromtimestamp(int(at), UTC)
    return found
