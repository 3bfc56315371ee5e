import io
from fractions import Fraction

import pytest

from app.domain.ages import AgeSpan, days, years
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBound, OuterBounds
from app.exchange.bounds_csv import COLUMNS, read_bounds
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


def test_the_default_bounds_written_as_a_file_are_read_as_themselves() -> None:
    lines = [
        ",".join(
            [
                row.quantity,
                str(row.span.start),
                "" if row.span.end is None else str(row.span.end),
                (row.when or "").replace("-", " "),
                row.side,
                str(row).replace("per year of age", "* age_years"),
                row.grade,
                f'"{row.source}"',
                row.status,
            ]
        )
        for row in DEFAULT_BOUNDS.rows
    ]

    assert read(*lines).rows == DEFAULT_BOUNDS.rows


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

    assert refused(lambda: read(GOOD, ",".join(cells))) == [(3, column, cell.strip(), reason)]


def test_everything_wrong_is_told_rows_of_the_wrong_width_too() -> None:
    wrong = GOOD.replace("low", "left").replace("danger", "red")

    found = refused(lambda: read(wrong, GOOD + ",x"))

    assert [told[:2] for told in found] == [(2, "side"), (2, "grade"), (3, "row")]


def test_a_file_without_a_bound_is_refused() -> None:
    assert refused(read) == [(2, "file", None, "holds no bound")]
