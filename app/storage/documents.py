"""A document is handed out only if it still is what its fingerprint says."""

import hashlib
import json
from functools import lru_cache

from app.domain.errors import MarchstoneError
from app.domain.profiles import fingerprint


class AlteredDocument(MarchstoneError):
    status = 500
    title = "This policy was altered in the database"

    def __init__(self, number: int) -> None:
        super().__init__(
            f"Revision {number} is not what its fingerprint says. It is not shown. "
            "Use the printed, dated card, and restore the database from a backup."
        )


@lru_cache(maxsize=64)
def is_whole(document: str, expected: str) -> bool:
    """What is stored in its canonical form, as everything is, hashes to it without a parse."""
    if hashlib.sha256(document.encode()).hexdigest() == expected:
        return True
    try:
        return fingerprint(json.loads(document)) == expected
    except ValueError:  # what somebody wrote past us need not be JSON
        return False


def whole(document: str, expected: str, *, number: int) -> str:
    """The document; raises AlteredDocument."""
    if not is_whole(document, expected):
        raise AlteredDocument(number)
    return document
