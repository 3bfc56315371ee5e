"""Recorded trends as Parquet, with the columns of the CSV form; a null is missing.

Read batch by batch, so that of the file no more than a piece is in memory beside what it becomes.
The library is loaded only where such a file comes.
"""

from collections.abc import Iterator, Set
from typing import Any, BinaryIO

import numpy as np

from app.domain.errors import Fault, Refused
from app.domain.trends import Numbers, Trends, Whole
from app.exchange.trend_columns import REQUIRED, Sizes, check_columns

MAGIC = b"PAR1"
MOST_ROWS = 100_000_000
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

        self.file = parquet.ParquetFile(source)
        self.names = list(self.file.schema_arrow.names)
        check_columns(self.names, known_vital_signs)
        self.vital_signs = [name for name in self.names if name not in REQUIRED]
        self.patients: dict[str, int] = {}
        self.last = -1  # patient of the row before the batch
        self.done = 0

    def read(self) -> tuple[Trends, list[str]]:
        rows = self.file.metadata.num_rows
        if not rows:
            raise Refused.because("the file holds no rows", column="file")
        if rows > MOST_ROWS:
            raise Refused.because(f"the file has more than {MOST_ROWS:,} rows", column="file")
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
        import pyarrow

        self._refuse_nulls("second", column)
        if not pyarrow.types.is_integer(column.type):
            raise Refused.because("must be whole numbers", column="second")
        return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.int64)

    def _values(self, name: str, column: Any) -> Numbers:
        import pyarrow

        kind = column.type
        if not (pyarrow.types.is_integer(kind) or pyarrow.types.is_floating(kind)):
            raise Refused.because("must be a column of numbers", column=name)
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
