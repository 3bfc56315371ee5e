"""Where HTTPS is used, browsers keep our cookies to this host alone and never send them without it.

Their names then begin with __Host-, which a browser takes only with Secure, with the path / and
without a domain; so no other host of the same domain can set one. The pages know the bare names.
"""

from starlette.datastructures import MutableHeaders

from app.web.crew_codes import COOKIE as CREW_CODE
from app.web.notices import COOKIE as NOTICE
from app.web.render import THEME_COOKIE as THEME
from app.web.sessions import COOKIE as SESSION

PREFIX = "__Host-"
OURS = (SESSION, CREW_CODE, NOTICE, THEME)
Headers = list[tuple[bytes, bytes]]


def bare_names(headers: Headers) -> Headers:
    """As the pages read them; one of ours that came without the prefix was set by somebody else."""
    return [
        (name, _bare(value.decode("latin-1")).encode("latin-1") if name == b"cookie" else value)
        for name, value in headers
    ]


def _bare(cookies: str) -> str:
    each = (one.strip() for one in cookies.split(";"))
    return "; ".join(one.removeprefix(PREFIX) for one in each if not one.startswith(OURS))


def keep_to_host(headers: MutableHeaders) -> None:
    """As browsers are told."""
    headers.raw[:] = [
        (name, _kept(value) if name == b"set-cookie" else value) for name, value in headers.raw
    ]


def _kept(cookie: bytes) -> bytes:
    if not cookie.startswith(tuple(one.encode() for one in OURS)):
        return cookie
    secure = b"" if b"; secure" in cookie.lower() else b"; Secure"
    return PREFIX.encode() + cookie + secure
