"""Which characters a TrueType font can draw, read from its `cmap` table (OpenType 1.9, format 12).

Typst draws an empty box for a character that its fonts lack and says nothing, so it is asked here
before.
"""

import struct

_UNICODE_FULL = (3, 10)  # platform and encoding of the subtable that holds every plane
_SEGMENTED_COVERAGE = 12


def covered(font: bytes) -> frozenset[int]:
    """Code points. Raises ValueError for a font without a full Unicode table."""
    start = _table(font, b"cmap")
    (count,) = struct.unpack_from(">H", font, start + 2)
    for number in range(count):
        *kind, offset = struct.unpack_from(">HHL", font, start + 4 + 8 * number)
        if tuple(kind) == _UNICODE_FULL:
            return _segments(font, start + offset)
    raise ValueError("the font has no full Unicode table")


def _table(font: bytes, wanted: bytes) -> int:
    (count,) = struct.unpack_from(">H", font, 4)
    for number in range(count):
        tag, _, offset, _ = struct.unpack_from(">4sLLL", font, 12 + 16 * number)
        if tag == wanted:
            return int(offset)
    raise ValueError(f"the font has no {wanted.decode()} table")


def _segments(font: bytes, start: int) -> frozenset[int]:
    kind, _, _, _, groups = struct.unpack_from(">HHLLL", font, start)
    if kind != _SEGMENTED_COVERAGE:
        raise ValueError(f"the font's full Unicode table has format {kind}, not 12")
    found: set[int] = set()
    for number in range(groups):
        first, last, _ = struct.unpack_from(">LLL", font, start + 16 + 12 * number)
        found.update(range(first, last + 1))
    return frozenset(found)
