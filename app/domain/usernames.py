import re

from app.domain.errors import Refused

_USERNAME = re.compile(r"[a-z0-9][a-z0-9._@-]{0,63}", re.ASCII)


def plain_username(typed: str) -> str:
    """As it is stored and looked up: phones like to begin with a capital or end with a space."""
    return typed.strip().lower()


def check_username(username: str) -> None:
    if not _USERNAME.fullmatch(username):
        raise Refused.because(
            "use 1 to 64 small letters, digits and . _ @ -", column="username", value=username
        )
