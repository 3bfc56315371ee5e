"""A list of leaked passwords as such lists are handed on: one SHA-1 a line in hexadecimal, in
rising order, with how often it was found behind a colon or without. It may be larger than memory:
it is searched where it lies."""

import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from app.domain.errors import NotNow, Refused

SETTING = "MARCHSTONE_LEAKED_PASSWORDS"
LOOKED_AT = 1_000
_LONGEST_LINE = 64
_LINE = re.compile(rb"([0-9A-Fa-f]{40})(?::[0-9]{1,20})?\r?\n?")


def leaked(file: Path, password: str) -> bool:
    """Raises NotNow where the list cannot be read: a password is not taken unseen."""
    # How these lists are written; nothing is kept by it.
    wanted = hashlib.sha1(password.encode(), usedforsecurity=False).hexdigest().encode()
    try:
        with file.open("rb") as lines:
            return _holds(lines, wanted)
    except (OSError, Refused) as error:
        raise NotNow(
            "The list of leaked passwords cannot be read, so no password can be set. "
            "Whoever runs the service finds out more by marchstone selftest."
        ) from error


def check_leaked_passwords(file: Path) -> None:
    """Raises Refused. Looks at a thousand lines all over the list, its first and its last."""
    try:
        with file.open("rb") as lines:
            size = _size(lines)
            _check_rising(_line_at(lines, at)[1] for at in _spread(size))
    except OSError as error:
        raise _because(f"{file} cannot be read: {error.strerror or error}") from error


def _holds(lines: BinaryIO, wanted: bytes) -> bool:
    low, high = 0, _size(lines)
    while low < high:
        start, digest, end = _line_at(lines, (low + high) // 2)
        if digest == wanted:
            return True
        low, high = (end, high) if digest < wanted else (low, start)
    return False


def _line_at(lines: BinaryIO, at: int) -> tuple[int, bytes, int]:
    """The line that the byte `at` belongs to: where it begins, its digest, where the next does."""
    before = max(0, at - _LONGEST_LINE)
    lines.seek(before)
    piece = lines.read(2 * _LONGEST_LINE + 1)
    begins = piece.rfind(b"\n", 0, at - before) + 1
    ends = piece.find(b"\n", at - before) + 1 or len(piece)
    found = _LINE.fullmatch(piece, begins, ends)
    if found is None:
        raise _because(f"the line at byte {before + begins} is no SHA-1 in hexadecimal")
    return before + begins, found[1].lower(), before + ends


def _spread(size: int) -> Iterator[int]:
    if not size:
        raise _because("it is empty")
    for step in range(LOOKED_AT):
        yield step * (size - 1) // (LOOKED_AT - 1)


def _check_rising(digests: Iterator[bytes]) -> None:
    """The same line may be met twice where there are few."""
    last = b""
    for digest in digests:
        if digest < last:
            raise _because("its lines do not rise: take the list that is ordered by hash")
        last = digest


def _size(lines: BinaryIO) -> int:
    return lines.seek(0, os.SEEK_END)


def _because(reason: str) -> Refused:
    return Refused.because(reason, column=SETTING)
