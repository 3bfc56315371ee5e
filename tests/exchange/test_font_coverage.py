import struct

import pytest

from app.exchange.font_coverage import covered
from app.places import folder

FONTS = sorted((folder("static") / "fonts").glob("*.ttf"))


@pytest.mark.parametrize("font", FONTS, ids=lambda font: font.name)
@pytest.mark.parametrize("character", "Aéßłđžθя₂°’–·ا")
def test_a_letter_that_the_font_draws_is_covered(font: object, character: str) -> None:
    assert ord(character) in covered(font.read_bytes())  # type: ignore[attr-defined]


@pytest.mark.parametrize("font", FONTS, ids=lambda font: font.name)
@pytest.mark.parametrize("character", ["李", "あ", "한", "\U0001f6ab", "\U0010fffd"])
def test_a_letter_that_the_font_lacks_is_not(font: object, character: str) -> None:
    assert ord(character) not in covered(font.read_bytes())  # type: ignore[attr-defined]


def _font(platform: tuple[int, int], kind: int) -> bytes:
    """A font of one table: U+0041 to U+0043, and U+1F600 alone."""
    groups = struct.pack(">LLLLLL", 0x41, 0x43, 1, 0x1F600, 0x1F600, 4)
    table = struct.pack(">HHLLL", kind, 0, 16 + len(groups), 0, 2) + groups
    cmap = struct.pack(">HHHHL", 0, 1, *platform, 12) + table
    head = struct.pack(">LHHHH", 0x10000, 1, 0, 0, 0)
    return head + struct.pack(">4sLLL", b"cmap", 0, 28, len(cmap)) + cmap


def test_first_and_last_of_each_group_are_covered() -> None:
    assert covered(_font((3, 10), 12)) == {0x41, 0x42, 0x43, 0x1F600}


@pytest.mark.parametrize(
    ("font", "why"),
    [
        (_font((1, 0), 12), "no full Unicode table"),
        (_font((3, 10), 13), "format 13"),
        (_font((3, 10), 12).replace(b"cmap", b"glyf"), "no cmap table"),
    ],
)
def test_a_font_that_cannot_be_read_is_refused_in_words(font: bytes, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        covered(font)
