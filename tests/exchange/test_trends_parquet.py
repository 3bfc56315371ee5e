"""Trends as Parquet: the same trends as from CSV, and the same refusals."""

import io
import subprocess
import sys
import tracemalloc
from typing import Any

import numpy as np
import pyarrow
import pytest
from pyarrow import parquet

from app.domain.errors import Fault, Refused
from app.domain.recordings import check_size
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
        ({**GOOD, "patient": [1.5, 1.5, 2.5]}, None, "patient", "texts or whole numbers"),
        ({**GOOD, "patient": ["a" * 2001] * 3}, None, "patient", "longer than 2000"),
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


def test_a_column_that_stands_twice_is_refused() -> None:
    names = [*GOOD, "spo2"]
    columns = [pyarrow.array(cells) for cells in (*GOOD.values(), GOOD["spo2"])]
    kept = io.BytesIO()
    parquet.write_table(pyarrow.Table.from_arrays(columns, names=names), kept)

    (fault,) = faults(kept.getvalue())

    assert (fault.column, fault.reason) == ("spo2", "this column stands twice")


def nested(deep: int) -> pyarrow.Array:
    kind = pyarrow.float64()
    for _ in range(deep):
        kind = pyarrow.list_(kind)
    return pyarrow.array([None, None, None], type=kind)


@pytest.mark.parametrize(
    ("deep", "column", "reason"),
    [(1, "spo2", "column of numbers"), (40, "spo2", "column of numbers"), (400, "file", "deeply")],
)
def test_a_column_that_is_nested_is_refused_however_deep(
    deep: int, column: str, reason: str
) -> None:
    (fault,) = faults({**GOOD, "spo2": nested(deep)})

    assert fault.column == column
    assert reason in fault.reason


def test_a_small_file_that_declares_more_rows_than_the_library_takes_is_refused_unread() -> None:
    """21 million rows in a few hundred kB: the same row again and again."""
    group = pyarrow.table(
        {
            "patient": pyarrow.array(["a"] * 1_000_000).dictionary_encode(),
            "second": pyarrow.array(np.zeros(1_000_000, np.int32)),
            "spo2": pyarrow.array(np.zeros(1_000_000, np.int8)),
        }
    )
    kept = io.BytesIO()
    with parquet.ParquetWriter(kept, group.schema) as writer:
        for _ in range(21):
            writer.write_table(group)
    assert len(kept.getvalue()) < 1 << 20

    tracemalloc.start()
    with pytest.raises(Refused, match="20,000,000 samples"):
        read_trends_file(io.BytesIO(kept.getvalue()), KNOWN, check_size)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert peak < 1 << 22


def test_a_group_of_rows_that_unpacks_to_too_much_is_refused_unread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("app.exchange.trends_parquet.MOST_UNPACKED", 40)

    (fault,) = faults({**GOOD, "second": [0, 1, 2], "patient": ["a"] * 3})

    assert "a group of rows unpacks to more than" in fault.reason


BOMB = """
import io, resource, sys
import pyarrow
from pyarrow import parquet
from app.domain.errors import Refused
from app.exchange.trends_files import read_trends_file

rows, long = 200_000, "a" * 1_000_000
column = pyarrow.DictionaryArray.from_arrays(pyarrow.array([0] * rows, pyarrow.int32()), [long])
{instead}
kept = io.BytesIO()
parquet.write_table(pyarrow.table(table), kept)
assert len(kept.getvalue()) < 1 << 22
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    read_trends_file(io.BytesIO(kept.getvalue()), frozenset(["spo2"]))
except Refused as refused:
    fault = refused.faults[0]
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    print(fault.column, grown < 100_000, fault.reason, sep="|")
"""
TEXTS = {
    "patient": "table = {'patient': column, 'second': range(rows), 'spo2': range(rows)}",
    "spo2": "table = {'patient': ['a'] * rows, 'second': range(rows), 'spo2': column}",
}


@pytest.mark.parametrize(
    ("where", "reason"),
    [
        ("patient", "a value is longer than 2000 characters"),
        ("spo2", "must be a column of numbers"),
    ],
)
def test_a_long_text_said_once_and_meant_many_times_is_never_written_out(
    where: str, reason: str
) -> None:
    """A megabyte two hundred thousand times is 200 GB; a process of its own shows what it took."""
    told = subprocess.run(
        [sys.executable, "-c", BOMB.replace("{instead}", TEXTS[where])],
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert told.strip() == f"{where}|True|{reason}"
