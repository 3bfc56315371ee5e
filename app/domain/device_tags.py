"""Tags of devices, and what helps whoever typed one wrongly.

A tag that ends in a full stop and one digit or capital letter claims that this is its check
character. Every other tag claims nothing, and is taken as it is.
"""

import re
from collections.abc import Collection, Iterable

from app.domain.check_characters import check_character
from app.domain.errors import Refused

_TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", re.ASCII)
_CLAIMS = re.compile(r"(.*[A-Za-z0-9].*)\.([0-9A-Za-z])", re.ASCII)
_MOST_OFFERED = 3


def check_tag(tag: str) -> None:
    """For a tag that is new on the register."""
    if not _TAG.fullmatch(tag):
        raise Refused.because("use 1 to 40 letters, digits and . _ -", column="tag", value=tag)
    if claims(tag) and not is_right(tag):
        told = f"its check character is wrong: did you mean {with_check(stem_of(tag))}?"
        raise Refused.because(told, column="tag", value=tag)


def claims(tag: str) -> bool:
    return _CLAIMS.fullmatch(tag) is not None


def is_right(tag: str) -> bool:
    """Whether the check character that it claims is the right one, as a capital."""
    return claims(tag) and tag[-1] == check_character(stem_of(tag))


def stem_of(tag: str) -> str:
    """Without the check character that it claims."""
    return tag[:-2] if claims(tag) else tag


def with_check(stem: str) -> str:
    return f"{stem}.{check_character(stem)}"


def next_tag(known: Collection[str], prefix: str) -> str:
    """The first free number behind the prefix, with its check character."""
    taken = {stem_of(tag).upper() for tag in known}
    number = 1
    while f"{prefix}-{number}".upper() in taken:
        number += 1
    return with_check(f"{prefix}-{number}")


def not_found_words(typed: str, known: Iterable[str]) -> str:
    """What to say where no device has this tag; only a check character can tell that it is wrong.

    Offered are tags on the register that differ by a check character, one character or one swap.
    """
    told = f"There is no device {typed}."
    if not claims(typed):
        return told
    near = sorted(tag for tag in known if _is_near(typed.upper(), tag.upper()))[:_MOST_OFFERED]
    wrong = "" if is_right(typed) else " Its check character is wrong."
    meant = f" Did you mean {' or '.join(near)}?" if near else " Look at the label again."
    return told + wrong + meant


def _is_near(typed: str, tag: str) -> bool:
    if stem_of(typed) == stem_of(tag):
        return True
    if not claims(tag) or len(typed) != len(tag):
        return False
    apart = [at for at, (one, other) in enumerate(zip(typed, tag, strict=True)) if one != other]
    if len(apart) == 1:
        return True
    swapped = len(apart) == 2 and apart[1] == apart[0] + 1
    return swapped and typed[apart[0]] == tag[apart[1]] and typed[apart[1]] == tag[apart[0]]
