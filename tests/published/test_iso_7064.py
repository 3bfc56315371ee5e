"""ISO/IEC 7064:2003, MOD 37,36, against codes that other standards publish with this character."""

import pytest

from app.domain.check_characters import ALPHABET, check_character


@pytest.mark.parametrize(
    ("text", "character"),
    [
        # Global Release Identifier, the example of the GRid Standard: A1-2425G-ABC1234002-M.
        ("A12425GABC1234002", "M"),
        ("a1-2425g-abc1234002", "M"),
        # ISAN (ISO 15706), the example that is published with it: 0000-0000-C36D-002B-K.
        ("00000000C36D002B", "K"),
        # ISAN with its version part, the second character of the same example: …-0000-0000-E.
        ("00000000C36D002B00000000", "E"),
    ],
)
def test_a_published_code_has_its_published_character(text: str, character: str) -> None:
    assert check_character(text) == character


def hybrid_sum(text: str) -> int:
    """The check as the standard words it: the last remainder of a whole code must be 1."""
    adjusted = 36
    for number, character in enumerate(text, start=1):
        total = adjusted + ALPHABET.index(character)
        intermediate = total % 36 or 36
        if number == len(text):
            return total % 36
        adjusted = intermediate * 2 % 37
    raise AssertionError("a code has characters")


@pytest.mark.parametrize("text", ["BOAT3", "ROAD25", "0", "Z", "SPARE5", "A" * 39])
def test_with_its_character_the_last_remainder_is_one(text: str) -> None:
    right = [c for c in ALPHABET if hybrid_sum(text + c) == 1]

    assert right == [check_character(text)]


@pytest.mark.parametrize("text", ["BOAT3", "ROAD25", "AIR8"])
def test_every_single_wrong_character_is_noticed(text: str) -> None:
    wrong = [
        text[:at] + other + text[at + 1 :]
        for at, character in enumerate(text)
        for other in ALPHABET
        if other != character
    ]

    assert all(check_character(one) != check_character(text) for one in wrong)


def test_of_all_swaps_of_two_neighbours_few_go_unnoticed() -> None:
    pairs = [(a, b) for a in ALPHABET for b in ALPHABET if a < b]
    missed = [(a, b) for a, b in pairs if check_character(a + b) == check_character(b + a)]

    assert len(missed) / len(pairs) < 0.005
