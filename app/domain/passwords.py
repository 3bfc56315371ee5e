"""May this be a password? Length counts, composition does not (NIST SP 800-63B, 3.1.1.2)."""

from app.domain.errors import Refused

SHORTEST, LONGEST = 12, 200


def check_new_password(password: str, *, username: str, name: str) -> None:
    """The longest keeps somebody from making the hashing itself a burden."""
    if len(password) < SHORTEST:
        raise _because(f"use at least {SHORTEST} characters; a few words in a row do well")
    if len(password) > LONGEST:
        raise _because(f"use at most {LONGEST} characters")
    if len(set(password)) < 5:
        raise _because("it repeats too few characters")
    for taken in (username, name):
        if _same(password, taken):
            raise _because("do not use the username or the name")


def _same(password: str, word: str) -> bool:
    """Also a word written several times over to make up the length."""
    plain, word = password.casefold(), word.casefold()
    return bool(word) and plain.replace(word, "").strip() == ""


def _because(reason: str) -> Refused:
    return Refused.because(reason, column="password")
