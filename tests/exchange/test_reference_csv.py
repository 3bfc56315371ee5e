import io

import pytest

from app.domain.ages import AgeSpan, days, months
from app.domain.centiles import CentileTable
from app.exchange.reference_csv import read_reference
from tests.exchange.refusals import Told, refused

HEADER = "vital_sign,age_from,age_to,p01,p50,p97.5"
GOOD = "heart-rate,0 d,3 mo,107,143,176"


def read(*lines: str, header: str = HEADER) -> CentileTable:
    return read_reference(io.BytesIO("\n".join([header, *lines]).encode()), "own.csv")


def test_a_table_is_read() -> None:
    table = read(GOOD, "spo2,3 mo,,90,97,99.5")

    first, second = table.rows
    assert table.source == "own.csv"
    assert (first.vital_sign, first.span) == ("heart-rate", AgeSpan(days(0), months(3)))
    assert (first.centiles, first.values) == ((1, 50, 97.5), (107, 143, 176))
    assert second.span == AgeSpan(months(3), None)
    assert first.curve.value_at(97.5) == pytest.approx(176)


@pytest.mark.parametrize(
    ("header", "row"),
    [
        ("p97.5,age_to,p01,vital_sign,p50,age_from", "176,3 mo,107,heart-rate,143,0 d"),
        ("vital_sign,age_from,age_to,p50,p1,p97.5", "heart-rate,0 d,3 mo,143,107,176"),
    ],
)
def test_the_order_of_columns_is_free(header: str, row: str) -> None:
    assert read(row, header=header).rows[0].values == (107, 143, 176)


def test_an_empty_cell_is_a_centile_that_is_not_printed() -> None:
    (row,) = read("heart-rate,0 d,3 mo,107,,176").rows

    assert (row.centiles, row.values) == ((1, 97.5), (107, 176))


def test_centiles_printed_alike_are_read() -> None:
    (row,) = read("spo2,0 d,3 mo,97,100,100").rows

    assert 0.5 < row.curve.share_below(100) < 0.975


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("heartrate,3 mo,6 mo,1,2,3", ("vital_sign", "heartrate", "is no vital sign")),
        (
            "heart-rate,3,6 mo,1,2,3",
            (
                "age_from",
                "3",
                "'3' is no age: write a number, a space and d, mo or y, such as '7 mo'",
            ),
        ),
        ("heart-rate,3 mo,3 mo,1,2,3", ("age_to", "3 mo", "must be older than age_from")),
        ("heart-rate,3 mo,6 mo,1,x,3", ("p50", "x", "must be a number")),
        ("heart-rate,3 mo,6 mo,1,NaN,3", ("p50", "NaN", "must be a number")),
        ("heart-rate,3 mo,6 mo,1,2e1,3", ("p50", "2e1", "must be a number")),
        ("heart-rate,3 mo,6 mo,2,1,3", ("p50", "1", "must not fall below a lower centile")),
        ("heart-rate,3 mo,6 mo,2,3,1", ("p97.5", "1", "must not fall below a lower centile")),
        (
            "heart-rate,3 mo,6 mo,2,2,2",
            ("file", None, "needs at least two different centile values"),
        ),
        ("heart-rate,3 mo,6 mo,2,,", ("file", None, "needs at least two different centile values")),
        ("heart-rate,2 mo,6 mo,1,2,3", ("age_from", "2 mo", "overlaps a band further up")),
        ("heart-rate,0 d,,1,2,3", ("age_from", "0 d", "overlaps a band further up")),
        ("heart-rate,3 mo,6 mo,1,2", ("row", None, "has 5 cells where the header has 6")),
    ],
)
def test_a_wrong_row_is_told_by_line_and_column(row: str, told: tuple[str, object, str]) -> None:
    assert refused(lambda: read(GOOD, row)) == [(3, *told)]


def test_bands_meet_without_overlap_and_vital_signs_do_not_disturb_each_other() -> None:
    rows = read(GOOD, GOOD.replace("0 d,3 mo", "3 mo,6 mo"), GOOD.replace("heart", "pulse")).rows

    assert len(rows) == 3


CENTILE = "must be a centile such as p01 or p97.5"


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("vital_sign,age_from,age_to,p00,p50", (1, "p00", "p00", CENTILE)),
        ("vital_sign,age_from,age_to,p100,p50", (1, "p100", "p100", CENTILE)),
        ("vital_sign,age_from,age_to,P01,p50", (1, "P01", "P01", CENTILE)),
        ("vital_sign,age_from,age_to,median,p50", (1, "median", "median", CENTILE)),
        ("vital_sign,age_from,age_to,p5,p05", (1, "p05", "p05", "this centile stands twice")),
        ("vital_sign,age_from,age_to,p50,p50", (1, "p50", "p50", "this column stands twice")),
        ("vital_sign,age_from,p50,p99", (1, "age_to", None, "this column is missing")),
        (
            "vital_sign,age_from,age_to,p50",
            (None, None, None, "the table needs at least two centile columns, such as p01 and p99"),
        ),
    ],
)
def test_a_wrong_header_is_told_by_column(header: str, told: Told) -> None:
    row = ",".join(["heart-rate", "0 d", "3 mo", "1", "2"][: header.count(",") + 1])

    assert refused(lambda: read(row, header=header)) == [told]


def test_a_table_without_rows_is_refused() -> None:
    assert refused(read) == [(2, "file", None, "holds no centiles")]


def test_a_table_of_wrong_rows_is_refused_for_these_alone() -> None:
    assert [told[:2] for told in refused(lambda: read("x,0 d,3 mo,1,2,3"))] == [(2, "vital_sign")]
