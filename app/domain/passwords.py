"""May this be a password? Length counts, composition does not (NIST SP 800-63B, 3.1.1.2).

What many people use, what is next to be guessed for this account, and what is plainly a pattern is
refused whatever its length.
"""

import re
from collections.abc import Container, Iterable
from itertools import pairwise

from app.domain.errors import Refused

SHORTEST, LONGEST = 12, 200
_NO_LETTER = re.compile(r"[\W\d_]+")
NOTHING_COMMON: frozenset[str] = frozenset()


def check_new_password(
    password: str,
    *,
    username: str,
    name: str,
    around: Iterable[str] = (),
    common: Container[str] = NOTHING_COMMON,
) -> None:
    """The longest keeps somebody from making the hashing itself a burden. `around` are words that
    anybody would try here, `common` passwords that many people use, in small letters."""
    if len(password) < SHORTEST:
        raise _because(f"use at least {SHORTEST} characters; a few words in a row do well")
    if len(password) > LONGEST:
        raise _because(f"use at most {LONGEST} characters")
    if len(set(password)) < 5 or _is_a_run(password):
        raise _because("it repeats too few characters, or counts them through")
    for taken in (username, name):
        if _is_made_of(password, taken):
            raise _because("do not use the username or the name")
    if any(_is_made_of(_letters(password), _letters(word)) for word in around):
        raise _because("do not use the name of the service or of the agency")
    if any(one in common for one in _cores(password)):
        raise _because("many people use this one, so it would be tried first")


def _is_a_run(password: str) -> bool:
    """abcdefghijkl, 987654321098: each character follows the one before, either way."""
    steps = {
        (ord(b) - ord(a)) % 10 if (a + b).isdigit() else ord(b) - ord(a)
        for a, b in pairwise(password.casefold())
    }
    return steps in ({1}, {-1}, {9})


def _is_made_of(password: str, word: str) -> bool:
    """Also written several times over to make up the length."""
    plain, word = password.casefold(), word.casefold()
    return bool(word) and plain.replace(word, "").strip() == ""


def _letters(text: str) -> str:
    return _NO_LETTER.sub("", text)


def _cores(password: str) -> set[str]:
    """As it is, without spaces, without what decorates its ends, and what it repeats of each."""
    plain = password.casefold()
    bare = "".join(plain.split())
    found = {plain, bare, bare.strip("0123456789!?.,-_*#$@+"), _letters(bare)}
    return {_repeated(one) for one in found} | found - {""}


def _repeated(text: str) -> str:
    """The shortest piece that, written again and again, gives it."""
    at = (text + text).find(text, 1)
    return text[:at] if text else text


def _because(reason: str) -> Refused:
    return Refused.because(reason, column="password")
