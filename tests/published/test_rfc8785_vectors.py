"""The canonical form behind every fingerprint, on the examples of RFC 8785 (June 2020).

Numbers: appendix B; sorting: section 3.2.3; whole document: section 3.2.2. From memory of the RFC.
"""

import math
import struct
from typing import Any

import pytest
import rfc8785

from app.domain.profiles import fingerprint


@pytest.mark.parametrize(
    ("bits", "written"),
    [
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("8000000000000001", "-5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("ffefffffffffffff", "-1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("c340000000000000", "-9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("44b52d02c7e14af7", "1.0000000000000001e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("41b3de4355555554", "333333333.33333325"),
        ("41b3de4355555555", "333333333.3333333"),
        ("41b3de4355555556", "333333333.3333334"),
        ("41b3de4355555557", "333333333.33333343"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_numbers(bits: str, written: str) -> None:
    number = struct.unpack(">d", bytes.fromhex(bits))[0]

    assert rfc8785.dumps(number).decode() == written


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_has_no_canonical_form(number: float) -> None:
    with pytest.raises(rfc8785.FloatDomainError):
        rfc8785.dumps(number)


def test_keys_are_sorted_by_utf16_code_units() -> None:
    keys = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }

    written = rfc8785.dumps(keys).decode()

    order = [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]
    assert [written.index(name) for name in order] == sorted(written.index(name) for name in order)


def test_a_whole_document() -> None:
    document: dict[str, Any] = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }

    assert rfc8785.dumps(document).decode() == (
        '{"literals":[null,true,false],'
        '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_key_order_and_the_spelling_of_a_number_do_not_change_a_fingerprint() -> None:
    assert fingerprint({"a": 90, "b": 1}) == fingerprint({"b": 1.0, "a": 90.0})
    assert fingerprint({"a": 90}) != fingerprint({"a": 91})
