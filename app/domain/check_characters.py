"""The check character of ISO/IEC 7064:2003, MOD 37,36: one of 36 digits and capital letters.

It catches every single wrong character and nearly every swap of two neighbours.
"""

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_M = len(ALPHABET)


def check_character(text: str) -> str:
    """Of the letters and digits alone; small letters count as capitals, other marks not at all."""
    carried = _M
    for character in text.upper():
        value = ALPHABET.find(character)
        if value >= 0:
            carried = ((carried + value) % _M or _M) * 2 % (_M + 1)
    return ALPHABET[(1 - carried) % _M]
