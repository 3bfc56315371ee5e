"""Argon2id, through pwdlib; a digest carries its own parameters. And what is no password."""

from functools import cache
from pathlib import Path

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

from app.domain.agencies import Agency
from app.domain.errors import Refused
from app.domain.passwords import check_new_password
from app.exchange.leaked_passwords import leaked

PRODUCT = "marchstone"

_HASHING = PasswordHash((Argon2Hasher(),))

NOBODYS = (
    "$argon2id$v=19$m=65536,t=3,p=4$aHHYaJXgtcUSiIYAOkHuPQ"
    "$SEQMCNTfjBp7DBiIXRdcSGeEFrIpaZYPxPyvHkyrAho"
)
"""Belongs to no account; checked where there is none, so that the answer takes as long."""


def digest_of(password: str) -> str:
    return _HASHING.hash(password)


def matches(password: str, digest: str | None) -> bool:
    """Always False without a digest, and never sooner: nobody learns which accounts exist."""
    return _HASHING.verify(password, digest or NOBODYS) and digest is not None


def check_password_of(
    agency: Agency, password: str, *, username: str, name: str, leaks: Path | None = None
) -> None:
    """Raises Refused where it would be guessed soon. `leaks`: a list of leaked passwords."""
    check_new_password(
        password,
        username=username,
        name=name,
        around=(PRODUCT, agency.key, agency.name),
        common=passwords_of_many(),
    )
    if leaks is not None and leaked(leaks, password):
        raise Refused.because("it has leaked somewhere, so it would be tried", column="password")


@cache
def passwords_of_many() -> frozenset[str]:
    """The 30,000 that were found most often where passwords leaked; read when first asked."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    return frozenset(FREQUENCY_LISTS["passwords"])
