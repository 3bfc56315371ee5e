import io

import numpy as np
import pytest

from app.domain.errors import Fault, Refused
from app.domain.trends import Trends
from app.exchange.trends_csv import read_trends

KNOWN = frozenset({"heart-rate", "spo2", "nibp-systolic"})


def read(text: str | bytes) -> Trends:
    raw = text if isinstance(text, bytes) else text.encode()
    return read_trends(io.BytesIO(raw), KNOWN)


def faults(text: str | bytes) -> tuple[Fault, ...]:
    with pytest.raises(Refused) as refused:
        read(text)
    return refused.value.faults


def test_rows_become_columns_and_an_empty_cell_is_missing() -> None:
    trends = read("patient,second,heart-rate,spo2\nb,0,120,\nb,5,121.5,97\na,-3, 80 ,0\n")

    assert trends.patient.tolist() == [0, 0, 1]
    assert trends.second.tolist() == [0, 5, -3]
    assert trends.values["heart-rate"].tolist() == [120, 121.5, 80]
    np.testing.assert_array_equal(trends.values["spo2"], [np.nan, 97, 0])
    assert (trends.rows, trends.patients) == (3, 2)


@pytest.mark.parametrize(
    "text",
    [
        b"\xef\xbb\xbfpatient,second,spo2\r\nx,0,97\r\nx,1,96\r\n",
        b'second,"spo2",patient\n0,"97",x\n1,96,"x"',
        b"patient,second,spo2\n\nx,0,97\n\nx,1,96\n\n",
    ],
    ids=["byte-order mark", "quoted, in another order", "empty lines"],
)
def test_what_other_programs_write_is_read(text: bytes) -> None:
    assert read(text).values["spo2"].tolist() == [97, 96]


@pytest.mark.parametrize(
    ("rows", "step_s"),
    [
        ("a,0,9\na,10,9\na,15,9\nb,0,9\nb,7,9", 5),
        ("a,0,9\na,10,9\nb,11,9", 10),  # a change of patient is no step
        ("a,5,9\nb,6,9", 1),  # nobody has two rows
    ],
)
def test_the_step_is_the_smallest_difference_within_a_patient(rows: str, step_s: int) -> None:
    assert read(f"patient,second,spo2\n{rows}\n").step_s == step_s


@pytest.mark.parametrize(
    ("row", "column", "reason"),
    [
        (",2,97", "patient", "empty"),
        ("a,2,97", "patient", "stand together"),
        ("b,,97", "second", "whole number"),
        ("b,2.5,97", "second", "whole number"),
        ("b,+2,97", "second", "whole number"),
        ("b,٢,97", "second", "whole number"),
        ("b,1,97", "second", "must rise"),
        ("b,0,97", "second", "must rise"),
        ("b,2,high", "spo2", "number or empty"),
        ("b,2,nan", "spo2", "number or empty"),
        ("b,2,inf", "spo2", "number or empty"),
        ("b,2,9e1", "spo2", "number or empty"),
        ("b,2,-", "spo2", "number or empty"),
        ('b,2,"9,5"', "spo2", "number or empty"),
        ("b,2", "row", "cells"),
        ("b,2,97,98", "row", "cells"),
    ],
)
def test_a_wrong_row_is_told_by_line_and_column(row: str, column: str, reason: str) -> None:
    found = faults(f"patient,second,spo2\na,0,97\nb,1,97\n{row}\n")

    assert [(fault.line, fault.column) for fault in found] == [(4, column)]
    assert reason in found[0].reason


def test_lines_are_those_of_the_file_not_of_the_rows() -> None:
    found = faults('patient,second,spo2\n"a\nb",0,97\n\n"a\nb",1,x\n')

    assert [fault.line for fault in found] == [6]


def test_every_wrong_cell_is_told() -> None:
    found = faults("patient,second,heart-rate,spo2\na,x,y,z\n,0,1,1\n,1,1,1\n")

    assert [(fault.line, fault.column) for fault in found] == [
        (2, "second"),
        (2, "heart-rate"),
        (2, "spo2"),
        (3, "patient"),
        (4, "patient"),
    ]


def test_a_patient_who_comes_back_is_told_once() -> None:
    found = faults("patient,second,spo2\na,0,9\nb,0,9\na,1,9\na,2,9\n")

    assert [(fault.line, fault.value) for fault in found] == [(4, "a")]


@pytest.mark.parametrize(("wrong", "told"), [(100, 100), (101, 101), (250, 101)])
def test_a_hundred_faults_are_told_and_the_rest_counted(wrong: int, told: int) -> None:
    found = faults("patient,second,spo2\n" + "".join(f"a,{n},x\n" for n in range(wrong)))

    assert len(found) == told
    if wrong > 100:
        assert f"{wrong - 100} more" in found[-1].reason


@pytest.mark.parametrize(
    ("text", "column", "reason"),
    [
        ("", "file", "empty"),
        ("patient,second,spo2\n", "file", "no rows"),
        ("patient,second\na,1\n", "file", "no column of a vital sign"),
        ("patient,spo2\na,97\n", "second", "missing"),
        ("second,spo2\n1,97\n", "patient", "missing"),
        ("patient,second,spo2,spo2\na,1,97,97\n", "spo2", "twice"),
        ("patient,second,mood\na,1,5\n", "mood", "unknown"),
        (b"patient,second,spo2\na,1,\xff\n", "file", "not UTF-8"),
    ],
)
def test_a_file_that_is_no_recording_is_refused(
    text: str | bytes, column: str, reason: str
) -> None:
    found = faults(text)

    assert [fault.column for fault in found] == [column]
    assert reason in found[0].reason


def test_more_ways_to_write_a_number_than_are_remembered_read_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("app.exchange.trends_csv._MOST_REMEMBERED", 2)

    trends = read("patient,second,spo2\na,0,97\na,1,96\na,2,95\na,3,95\n")

    assert trends.values["spo2"].tolist() == [97, 96, 95, 95]
