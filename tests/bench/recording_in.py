"""A recording taken in: plain CSV in blocks, against row by row and against the bare parser."""

import io
import time
import tracemalloc
from collections.abc import Iterator

from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.packed_trends import packed
from app.exchange.plain_trends import read_plain_trends
from app.exchange.trends_csv import read_by_row
from tests.bench.contests import Contest, Rival

NAME = "take in a recording"
_KNOWN = frozenset(VITAL_SIGNS)
_HEAD = "patient,second,heart-rate,spo2,respiratory-rate,temperature\n"
_PATIENT = 7200  # rows of each


def contest(samples: int) -> Contest:
    """`samples` of four vital signs together."""
    rows = samples // 4
    raw = "".join([_HEAD, *_rows(rows)]).encode()
    return Contest(
        name=NAME,
        size=f"{rows:,} rows, {len(raw) / 1e6:.0f} MB, memory {_memory(raw):.2f} × the columns",
        ours=Rival("in blocks", lambda: packed(read_plain_trends(io.BytesIO(raw), _KNOWN)[0])[1]),
        others=(
            Rival("row by row", lambda: packed(read_by_row(io.BytesIO(raw), _KNOWN)[0])[1]),
            Rival("pyarrow.csv alone", lambda: _parsed(raw), answers=False),
        ),
        target="linear in rows, memory flat beside the columns",
        clock=time.process_time,
    )


def _rows(rows: int) -> Iterator[str]:
    for row in range(rows):
        heart = "" if row % 50 == 0 else 90 + row * 7 % 60
        values = f"{heart},{90 + row % 11},{20 + row % 9},37.{row % 8}"
        yield f"p{row // _PATIENT},{row % _PATIENT},{values}\n"


def _memory(raw: bytes) -> float:
    """What numpy holds at most, by the size of the columns; warmed up before."""
    read_plain_trends(io.BytesIO(raw), _KNOWN)
    tracemalloc.start()
    trends, _ = read_plain_trends(io.BytesIO(raw), _KNOWN)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / (trends.rows * 8 * (2 + len(trends.values)))


def _parsed(raw: bytes) -> int:
    from pyarrow import csv

    return int(csv.read_csv(io.BytesIO(raw), csv.ReadOptions(use_threads=False)).num_rows)
