"""Trends as Parquet: the same trends as from CSV, and the same refusals."""

import io
from typing import Any

import numpy as np
import pyarrow
import pytest
from pyarrow import parquet

from app.domain.errors import Fault, Refused
from app.domain.trends import Trends
from app.exchange.packed_trends import packed
from app.exchange.trends_files import read_trends_file
from tests import recorded

KNOWN = frozenset({"heart-rate", "spo2"})
GOOD: dict[str, Any] = {"patient": ["a", "a", "b"], "second": [0, 1, 0], "spo2": [97.0, None, 96.0]}


def written(columns: dict[str, Any], **how: Any) -> bytes:
    kept = io.BytesIO()
    parquet.write_table(pyarrow.table(columns), kept, **how)
    return kept.getvalue()


def read(columns: dict[str, Any] | bytes, **how: Any) -> Trends:
    raw = columns if isinstance(columns, bytes) else written(columns, **how)
    return read_trends_file(io.BytesIO(raw), KNOWN)[0]


def faults(columns: dict[str, Any] | bytes) -> tuple[Fault, ...]:
    with pytest.raises(Refused) as refused:
        read(columns)
    return refused.value.faults


def test_rows_become_columns_and_a_null_is_missing() -> None:
    trends, names = read_trends_file(io.BytesIO(written(GOOD)), KNOWN)

    assert trends.patient.tolist() == [0, 0, 1]
    assert trends.second.tolist() == [0, 1, 0]
    np.testing.assert_array_equal(trends.values["spo2"], [97, np.nan, 96])
    assert trends.step_s == 1
    assert names == ["a", "b"]


@pytest.mark.parametrize("groups", [1, 2, 1000])
def test_both_forms_tell_the_same_however_the_file_is_cut(groups: int) -> None:
    from_csv, _ = read_trends_file(io.BytesIO(recorded.as_csv().encode()), KNOWN)
    table = parquet.read_table(io.BytesIO(recorded.as_parquet()))
    kept = io.BytesIO()
    parquet.write_table(table, kept, row_group_size=groups)

    from_parquet, names = read_trends_file(io.BytesIO(kept.getvalue()), KNOWN)

    assert packed(from_parquet)[1] == packed(from_csv)[1]
    assert names == ["p1", "p2"]


@pytest.mark.parametrize(
    "columns",
    [
        GOOD | {"patient": [1, 1, 2]},
        GOOD | {"patient": pyarrow.array(["a", "a", "b"]).dictionary_encode()},
        GOOD | {"second": pyarrow.array([0, 1, 0], pyarrow.int16())},
        GOOD | {"spo2": pyarrow.array([97, None, 96], pyarrow.int8())},
        GOOD | {"spo2": pyarrow.array([97, None, 96], pyarrow.float32())},
    ],
    ids=["patients by number", "dictionary", "short seconds", "whole values", "single precision"],
)
def test_what_other_programs_write_is_read(columns: dict[str, Any]) -> None:
    trends = read(columns)

    assert trends.patients == 2
    np.testing.assert_array_equal(trends.values["spo2"], [97, np.nan, 96])


@pytest.mark.parametrize(
    ("columns", "line", "column", "reason"),
    [
        ({**GOOD, "weight": [1, 2, 3]}, 1, "weight", "unknown column"),
        ({"patient": ["a"], "second": [0]}, 1, "file", "there is no column of a vital sign"),
        ({"second": [0], "spo2": [97]}, 1, "patient", "this column is missing"),
        ({**GOOD, "patient": ["a", "b", "a"]}, 3, "patient", "rows of a patient must stand"),
        ({**GOOD, "patient": ["a", None, "b"]}, 2, "patient", "is empty"),
        ({**GOOD, "second": [0, 0, 0]}, 2, "second", "must rise within a patient"),
        ({**GOOD, "second": [0.0, 1.0, 0.0]}, None, "second", "must be whole numbers"),
        ({**GOOD, "second": [0, None, 0]}, 2, "second", "is empty"),
        ({**GOOD, "spo2": ["97", "x", "96"]}, None, "spo2", "must be a column of numbers"),
        ({**GOOD, "spo2": [97.0, 96.0, np.inf]}, 3, "spo2", "must be a number or empty"),
        ({key: [] for key in GOOD}, None, "file", "the file holds no rows"),
        (b"PAR1 and nothing else", None, "file", "this Parquet file cannot be read"),
        (written(GOOD)[:-20] + b"\0" * 12 + b"PAR1", None, "file", "cannot be read"),
    ],
)
def test_what_is_wrong_is_told_by_row_and_column(
    columns: dict[str, Any] | bytes, line: int | None, column: str, reason: str
) -> None:
    fault = faults(columns)[0]

    assert (fault.line, fault.column) == (line, column)
    assert reason in fault.reason


def test_more_rows_than_anybody_can_hold_are_refused_before_they_are_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("app.exchange.trends_parquet.MOST_ROWS", 2)

    assert "more than 2 rows" in faults(GOOD)[0].reason


def test_it_is_read_batch_by_batch(monkeypatch: pytest.MonkeyPatch) -> None:
    """A patient may begin in one batch and end in another."""
    monkeypatch.setattr("app.exchange.trends_parquet._BATCH", 2)
    rows = 7
    columns = {
        "patient": ["a"] * 3 + ["b"] * 4,
        "second": [0, 1, 2, 0, 1, 2, 3],
        "spo2": [float(row) for row in range(rows)],
    }

    trends = read(columns)

    assert trends.patient.tolist() == [0, 0, 0, 1, 1, 1, 1]
    assert trends.values["spo2"].tolist() == list(range(rows))
    assert faults({**columns, "patient": ["a"] * 3 + ["b"] * 3 + ["a"]})[0].line == rows
