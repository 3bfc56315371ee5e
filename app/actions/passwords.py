"""Argon2id, through pwdlib; a digest carries its own parameters."""

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

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
