"""The code that crews share, where an agency wants one before the open look-up.

It keeps strangers out of what is no secret, so it may be short; it is no password of a person. A
phone that knew it once carries a pass, which ends when the code changes.
"""

import hashlib
import hmac

from app.domain.errors import Refused

SHORTEST, LONGEST = 6, 40


def plain_code(typed: str) -> str:
    """As it is compared: typed with gloves, in capitals or with spaces, it is the same."""
    return "".join(typed.split()).casefold()


def check_code(typed: str) -> str:
    """Raises Refused."""
    code = plain_code(typed)
    if not SHORTEST <= len(code) <= LONGEST or not code.isprintable():
        raise Refused.because(f"use {SHORTEST} to {LONGEST} letters and digits", column="crew_code")
    return code


def crew_pass(code_hash: str) -> str:
    """What a phone carries in the code's place: of no use once another code is kept."""
    return hmac.new(code_hash.encode(), b"crew pass", hashlib.sha256).hexdigest()


def opens(code_hash: str, carried: str) -> bool:
    return hmac.compare_digest(crew_pass(code_hash), carried)
