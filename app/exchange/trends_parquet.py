"""Recorded trends as Parquet, with the columns of the CSV form; a null is missing.

Read batch by batch, so that of the file no more than a piece is in memory beside what it becomes.
A small file may hold much: what it declares is looked at before anything is unpacked, and what it
calls the patients stays in its dictionary. The library is loaded only where such a file comes.
"""

from collections.abc import Iterator, Set
from typing import Any, BinaryIO

import numpy as np

from app.domain.errors import Fault, Refused
from app.domain.trends import Numbers, Trends, Whole
from app.exchange.csv_text import LONGEST_CELL, check_header
from app.exchange.trend_columns import REQUIRED, Sizes, check_columns

MAGIC = b"PAR1"
MOST_ROWS = 100_000_000
MOST_UNPACKED = 1 << 30  # bytes of a column in one group of rows
_BATCH = 1 << 18


def read_parquet_trends(
    source: BinaryIO, known_vital_signs: Set[str], check_size: Sizes | None = None
) -> tuple[Trends, list[str]]:
    """(trends, what the file calls the patients); raises Refused, rows counted from 1."""
    import pyarrow

    try:
        reader = _Reader(source, known_vital_signs)
        if check_size is not None:
            check_size(reader.file.metadata.num_rows, len(reader.vital_signs))
        return reader.read()
    except (pyarrow.ArrowException, OSError) as error:
        reason = f"this Parquet file cannot be read: {str(error).splitlines()[0]}"
        raise Refused([Fault(reason, column="file")]) from None


class _Reader:
    def __init__(self, source: BinaryIO, known_vital_signs: Set[str]) -> None:
        from pyarrow import parquet

        self.names = list(parquet.read_schema(source).names)
        check_header(self.names, (), None)
        check_columns(self.names, known_vital_signs)
        source.seek(0)
        self.file = parquet.ParquetFile(source, read_dictionary=["patient"])
        self.vital_signs = [name for name in self.names if name not in REQUIRED]
        self.patients: dict[str, int] = {}
        self.last = -1  # patient of the row before the batch
        self.done = 0

    def _check_kinds(self) -> None:
        """Before anything is unpacked: texts and lists may hold far more than numbers."""
        from pyarrow import types

        for field in self.file.schema_arrow:
            kind = field.type
            if types.is_dictionary(kind):
                kind = kind.value_type
            if field.name == "patient":
                texts = types.is_string(kind) or types.is_large_string(kind)
                if not texts and not types.is_integer(kind):
                    raise Refused.because("must be texts or whole numbers", column="patient")
            elif field.name == "second":
                if not types.is_integer(kind):
                    raise Refused.because("must be whole numbers", column="second")
            elif not (types.is_integer(kind) or types.is_floating(kind)):
                raise Refused.because("must be a column of numbers", column=field.name)

    def _check_size(self, rows: int) -> None:
        if not rows:
            raise Refused.because("the file holds no rows", column="file")
        if rows > MOST_ROWS:
            raise Refused.because(f"the file has more than {MOST_ROWS:,} rows", column="file")
        held = self.file.metadata
        groups = (held.row_group(number) for number in range(held.num_row_groups))
        for group in groups:
            for place, name in enumerate(self.names):
                if group.column(place).total_uncompressed_size > MOST_UNPACKED:
                    reason = f"a group of rows unpacks to more than {MOST_UNPACKED >> 20} MiB"
                    raise Refused.because(reason, column=name)

    def read(self) -> tuple[Trends, list[str]]:
        rows = self.file.metadata.num_rows
        self._check_size(rows)
        self._check_kinds()
        patient, second = np.empty(rows, np.int64), np.empty(rows, np.int64)
        values = {name: np.empty(rows) for name in self.vital_signs}
        for at, batch in self._batches():
            place = slice(at, at + batch.num_rows)
            patient[place] = self._patients(batch.column("patient"))
            second[place] = self._seconds(batch.column("second"))
            for name, column in values.items():
                column[place] = self._values(name, batch.column(name))
        return self._trends(patient, second, values), list(self.patients)

    def _batches(self) -> Iterator[tuple[int, Any]]:
        for batch in self.file.iter_batches(_BATCH):
            yield self.done, batch
            self.done += batch.num_rows

    def _patients(self, column: Any) -> Whole:
        self._refuse_nulls("patient", column)
        told = column.dictionary_encode() if not hasattr(column, "dictionary") else column
        codes = told.indices.to_numpy(zero_copy_only=False).astype(np.int64)
        names = [str(name) for name in told.dictionary.to_pylist()]
        if any(len(name) > LONGEST_CELL for name in names):
            reason = f"a value is longer than {LONGEST_CELL} characters"
            raise Refused.because(reason, column="patient")
        begins = np.flatnonzero(np.diff(codes, prepend=-1))
        numbers = np.empty(len(names), np.int64)
        for row in begins.tolist():
            numbers[codes[row]] = self._number(names[codes[row]], self.done + row + 1)
        found: Whole = numbers[codes]
        return found

    def _number(self, name: str, row: int) -> int:
        number = self.patients.get(name)
        if number is not None and number != self.last:
            reason = "the rows of a patient must stand together"
            raise Refused([Fault(reason, row, "patient", name)])
        self.last = self.patients.setdefault(name, len(self.patients))
        return self.last

    def _seconds(self, column: Any) -> Whole:
        self._refuse_nulls("second", column)
        return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.int64)

    def _values(self, name: str, column: Any) -> Numbers:
        import pyarrow

        found = np.asarray(
            column.cast(pyarrow.float64()).to_numpy(zero_copy_only=False), dtype=np.float64
        )
        endless = np.flatnonzero(np.isinf(found))
        if endless.size:
            row = self.done + int(endless[0]) + 1
            raise Refused([Fault("must be a number or empty", row, name)])
        return found

    def _refuse_nulls(self, name: str, column: Any) -> None:
        if column.null_count:
            row = int(np.flatnonzero(column.is_null().to_numpy(zero_copy_only=False))[0])
            raise Refused([Fault("is empty", self.done + row + 1, name)])

    def _trends(self, patient: Whole, second: Whole, values: dict[str, Numbers]) -> Trends:
        same = np.diff(patient) == 0
        apart = np.diff(second)
        stuck = np.flatnonzero(same & (apart <= 0))
        if stuck.size:
            row = int(stuck[0]) + 2
            raise Refused(
                [Fault("must rise within a patient", row, "second", int(second[row - 1]))]
            )
        step = int(apart[same].min()) if same.any() else 1
        return Trends(patient, second, values, step)
