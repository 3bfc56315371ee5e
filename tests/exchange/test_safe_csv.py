import csv
import io

import pytest

from app.exchange.safe_csv import written


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+44", "'+44"),
        ("-5 to 3", "'-5 to 3"),
        ("@here", "'@here"),
        ("\tx", "'\tx"),
        ("1=1", "1=1"),
        ("a, b", "a, b"),
        ('say "no"', 'say "no"'),
        ("two\nlines", "two\nlines"),
        (-5, "-5"),
        (None, ""),
        ("", ""),
    ],
)
def test_a_text_is_never_a_formula(value: object, cell: str) -> None:
    text = written(("a",), [(value,)]).decode("utf-8-sig")

    assert [*csv.reader(io.StringIO(text, newline=""))] == [["a"], [cell]]


def test_spreadsheets_are_told_the_encoding() -> None:
    assert written(("SpO₂",), []).startswith(b"\xef\xbb\xbfSpO")
