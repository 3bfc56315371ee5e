"""Names in the order in which people count: Station 2 before Station 10."""

import re

_DIGITS = re.compile(r"(\d+)", re.ASCII)
Key = tuple[tuple[tuple[int, int, str], ...], str]


def natural(name: str) -> Key:
    """For sorting; numbers before letters, great and small letters alike."""
    parts = [part for part in _DIGITS.split(name.casefold()) if part]
    return tuple(map(_part, parts)), name


def _part(text: str) -> tuple[int, int, str]:
    return (0, int(text), "") if _DIGITS.fullmatch(text) else (1, 0, text)
