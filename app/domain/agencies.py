"""The service that owns devices and policy; nobody sees another agency's data."""

import re
from dataclasses import dataclass, field

from app.domain.agency_choices import AgencyChoices
from app.domain.errors import Refused

_KEY = re.compile(r"[a-z0-9][a-z0-9-]{0,39}", re.ASCII)
_TAKEN_BY_PAGES = frozenset(
    (
        "api",
        "static",
        "setup",
        "invitation",
        "sign-in",
        "sign-out",
        "theme",
        "help",
        "health",
        "ready",
        "metrics",
    )
)


@dataclass(frozen=True)
class Agency:
    """`key` stands in every address; `time_zone` is an IANA name."""

    id: int
    key: str
    name: str
    time_zone: str
    choices: AgencyChoices = field(default_factory=AgencyChoices)


@dataclass(frozen=True)
class NewAgency:
    key: str
    name: str
    time_zone: str


def check_agency_key(key: str) -> None:
    if not _KEY.fullmatch(key):
        raise Refused.because(
            "use 1 to 40 small letters, digits and hyphens", column="agency_key", value=key
        )
    if key in _TAKEN_BY_PAGES:
        raise Refused.because("this word is used by the pages", column="agency_key", value=key)
