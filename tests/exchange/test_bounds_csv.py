import io
from fractions import Fraction

import pytest

from app.domain.ages import AgeSpan, days, years
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.exchange.bounds_csv import (
    COLUMNS,
    MOST_BYTES,
    MOST_ROWS,
    read_bounds,
    text_of,
    write_bounds,
)
from tests.exchange.refusals import refused

HEADER = ",".join(COLUMNS)
GOOD = "heart-rate,0 d,1 y,,low,80,danger,our board,J"


def read(*lines: str) -> OuterBounds:
    return read_bounds(io.BytesIO("\n".join([HEADER, *lines]).encode()), "own.csv")


def test_a_bound_is_read() -> None:
    bounds = read(
        GOOD,
        "nibp-systolic,1 y,10 y,,low,70 + 2 * age_years,caution,our board,J",
        "spo2,28 d,,hypercapnia risk,low,83,danger,our board,",
    )

    assert bounds.name == "own.csv"
    assert bounds.rows == (
        OuterBound(
            "heart-rate",
            AgeSpan(days(0), years(1)),
            "low",
            Fraction(80),
            Fraction(0),
            "danger",
            "J",
            "our board",
        ),
        OuterBound(
            "nibp-systolic",
            AgeSpan(years(1), years(10)),
            "low",
            Fraction(70),
            Fraction(2),
            "caution",
            "J",
            "our board",
        ),
        OuterBound(
            "spo2",
            AgeSpan(days(28), None),
            "low",
            Fraction(83),
            Fraction(0),
            "danger",
            "",
            "our board",
            "hypercapnia-risk",
        ),
    )


@pytest.mark.parametrize(
    "bounds",
    [
        DEFAULT_BOUNDS,
        read('spo2,4.5678 mo,10.25 y,above 2500 m,low,87.125,caution,"A ""quoted"", long = one",'),
        read("nibp-systolic,0.5 d,1234.5678 d,,low,123456.7891 + 0.0001 * age_years,danger,x,J"),
    ],
    ids=["the default", "decimals", "more decimals than people read"],
)
def test_bounds_written_as_a_file_are_read_as_themselves(bounds: OuterBounds) -> None:
    text = write_bounds(bounds)

    found = read_bounds(io.BytesIO(text.encode()), bounds.name)

    assert found == bounds
    assert write_bounds(found) == text


UNPRINTABLE = "remove the characters that cannot be printed"
FORMULA = "must be a number, or base + per-year * age_years"


@pytest.mark.parametrize(
    ("column", "cell", "reason"),
    [
        ("vital_sign", "heartrate", "has no low bound"),
        ("vital_sign", "apnoea", "has no low bound"),
        ("vital_sign", "asystole", "has no low bound"),
        (
            "vital_sign",
            "pulse-rate",
            "is judged by the bounds of heart-rate: write it there",
        ),
        ("age_from", "0", "'0' is no age: write a number, a space and d, mo or y, such as '7 mo'"),
        ("age_from", "", "'' is no age: write a number, a space and d, mo or y, such as '7 mo'"),
        ("age_to", "131 y", "'131 y' is older than 130 years"),
        ("age_to", "0 d", "must be older than age_from"),
        ("side", "", "must be low or high"),
        ("side", "lower", "must be low or high"),
        ("grade", "unsafe", "must be danger or caution"),
        ("source", " ", "is empty: every bound names its source"),
        ("source", "our\x00board", UNPRINTABLE),
        ("status", "our\x07board", UNPRINTABLE),
        ("when", "our\x1bboard", UNPRINTABLE),
        ("bound", "", FORMULA),
        ("bound", "-5", FORMULA),
        ("bound", "1e3", FORMULA),
        ("bound", "NaN", FORMULA),
        ("bound", "70+2*age_years", FORMULA),
        ("bound", "70 + 2 * age_months", FORMULA),
        ("bound", "9" * 400, FORMULA),
    ],
)
def test_a_wrong_cell_is_told_by_line_and_column(column: str, cell: str, reason: str) -> None:
    cells = GOOD.split(",")
    cells[COLUMNS.index(column)] = cell

    value = None if reason == UNPRINTABLE else cell.strip()
    assert refused(lambda: read(GOOD, ",".join(cells))) == [(3, column, value, reason)]


def test_everything_wrong_is_told_rows_of_the_wrong_width_too() -> None:
    wrong = GOOD.replace("low", "left").replace("danger", "red")

    found = refused(lambda: read(wrong, GOOD + ",x"))

    assert [told[:2] for told in found] == [(2, "side"), (2, "grade"), (3, "row")]


def test_a_file_without_a_bound_is_refused() -> None:
    assert refused(read) == [(2, "file", None, "holds no bound")]


@pytest.mark.parametrize(("rows", "told"), [(MOST_ROWS, 0), (MOST_ROWS + 1, 1)])
def test_the_number_of_bounds_is_bounded(rows: int, told: int) -> None:
    if not told:
        assert len(read(*[GOOD] * rows).rows) == rows
        return

    found = refused(lambda: read(*[GOOD] * rows))

    assert found == [(MOST_ROWS + 2, "file", None, f"holds more than {MOST_ROWS} bounds")]


def test_an_upload_is_read_as_text_with_or_without_a_byte_order_mark() -> None:
    assert text_of(b"\xef\xbb\xbfage") == text_of(b"age") == "age"
    assert len(text_of(b"x" * MOST_BYTES)) == MOST_BYTES


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"x" * (MOST_BYTES + 1), (None, None, None, "the file is larger than 512 KiB")),
        (b"one\ntwo\n\xff", (3, "file", None, "this is not UTF-8 text")),
    ],
    ids=["too large", "no UTF-8"],
)
def test_an_upload_that_is_no_text_is_refused(raw: bytes, told: object) -> None:
    assert refused(lambda: text_of(raw)) == [told]
