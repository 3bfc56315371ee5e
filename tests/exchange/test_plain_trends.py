"""Long plain files are read in blocks: as row by row, or not at all."""

import io
import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.errors import Refused
from app.domain.recordings import check_size
from app.domain.trends import Trends
from app.exchange.plain_trends import WORTH_IT, NotPlainError, read_plain_trends
from app.exchange.trends_csv import read_named_trends

KNOWN = frozenset({"heart-rate", "spo2"})
HEAD = "patient,second,heart-rate,spo2\n"
SMALLEST = 1  # block of the look over; the library gets 2,000 bytes at least


def plainly(raw: bytes, block: int = SMALLEST) -> tuple[Trends, list[str]] | None:
    """None where it is not plain."""
    try:
        return read_plain_trends(io.BytesIO(raw), KNOWN, block=block)
    except NotPlainError:
        return None


def alike(one: Trends, other: Trends) -> bool:
    return (
        one.step_s == other.step_s
        and (one.patient == other.patient).all()
        and (one.second == other.second).all()
        and list(one.values) == list(other.values)
        and all(np.array_equal(one.values[n], other.values[n], equal_nan=True) for n in one.values)
    )


CELLS = st.sampled_from(
    [
        "97",
        "",
        " 80 ",
        "121.5",
        "-3",
        "007",
        "9e1",
        "nan",
        "inf",
        "0x1F",
        "1_0",
        "x",
        "٢",
        "+5",
        "-",
    ]
)
ROWS = st.tuples(
    st.sampled_from(["a", "b", " a", "", "c d"]),
    st.sampled_from(["0", "1", "2", "5", "9", "-7", "+2", "2.0", "0x2", " 3", ""]),
    CELLS,
    CELLS,
)


@settings(max_examples=300, deadline=None)
@given(st.lists(ROWS, max_size=6), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_what_is_taken_is_what_a_reading_row_by_row_takes(
    rows: list[tuple[str, ...]], end: str, closed: bool
) -> None:
    raw = (HEAD + end.join(",".join(row) for row in rows) + (end if closed else "")).encode()

    found = plainly(raw)

    if found is not None:
        trends, names = read_named_trends(io.BytesIO(raw), KNOWN)
        assert alike(found[0], trends)
        assert found[1] == names


@pytest.mark.parametrize(
    "text",
    [
        "a,0,97,80\na,1,,80.5\nb,-3,96,\n",
        "a,0,97,80\r\na,1,,80.5\r\nb,-3,96,",
        "\na,0,97,80\n\n\na,1,,80.5\n",
        "Ödö 7,0, 97 ,80\nÖdö 7,20,97,80\n",
    ],
    ids=["plain", "with returns", "empty lines", "other letters"],
)
def test_what_is_plain_is_taken(text: str) -> None:
    raw = (HEAD + text).encode()

    found = plainly(raw)

    assert found is not None
    assert alike(found[0], read_named_trends(io.BytesIO(raw), KNOWN)[0])


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"patient,second,spo2",
        b"patient,second,spo2\n",
        b"patient,second\na,1\n",
        b"patient,second,spo2,spo2\na,1,97,97\n",
        b"patient,second,mood\na,1,5\n",
        b"patient,second,spo2\na,0,\xff\n",
        b'patient,second,spo2\na,0,"97"\n',
        b"patient,second,spo2\na,0,97\ra,1,97\n",
        b"patient,second,spo2\na,0\n",
        b"patient,second,spo2\na,0,97,98\n",
        b"patient,second,spo2\n,0,97\n",
        b"patient,second,spo2\na,1,97\na,1,97\n",
        b"patient,second,spo2\na,0,97\nb,0,97\na,1,97\n",
        b"patient,second,spo2\na,0,97\nb,0,97\n a,1,97\n",
        b"patient,second,spo2\na,0,high\n",
        b"patient,second,spo2\na,0,9e1\n",
        b"patient,second,spo2\na,2.5,97\n",
        b"patient,second,spo2\na,9999999999999999,97\n",
        b"patient,second,spo2\n" + b"a" * 2001 + b",0,97\n",
    ],
)
def test_what_is_wrong_or_in_doubt_is_left_to_somebody_who_looks_at_each_row(raw: bytes) -> None:
    assert plainly(raw) is None


def a_long_file(rows: int, more: str = "") -> bytes:
    lines = (
        f"p{n // 5000},{n % 5000},{60 + n % 90},{'' if n % 50 == 0 else 97}" for n in range(rows)
    )
    return (HEAD + "\n".join(lines) + "\n" + more).encode()


def test_patients_and_steps_go_on_over_the_edge_of_a_block() -> None:
    raw = a_long_file(1200)

    found = plainly(raw, block=2000)

    assert found is not None
    assert alike(found[0], plainly(raw, block=1 << 20)[0])  # type: ignore[index]
    assert found[0].step_s == 1
    assert plainly(raw + b"p0,1200,80,97\n", block=2000) is not None
    assert plainly(raw + b"p0,1199,80,97\n", block=2000) is None


def test_a_wrong_cell_of_a_long_file_is_told_by_line_and_column() -> None:
    raw = a_long_file(80_000, "p15,9999,80,high\n")
    assert len(raw) > WORTH_IT

    with pytest.raises(Refused) as refused:
        read_named_trends(io.BytesIO(raw), KNOWN)

    (fault,) = refused.value.faults
    assert (fault.line, fault.column, fault.value) == (80_002, "spo2", "high")


def test_of_a_long_file_little_more_is_held_than_what_it_becomes() -> None:
    """Numpy tells the book-keeping of what it takes; a block is a mebibyte."""
    raw = a_long_file(400_000)
    read_named_trends(io.BytesIO(raw), KNOWN)  # whatever is loaded is loaded

    tracemalloc.start()
    trends, _ = read_named_trends(io.BytesIO(raw), KNOWN)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    becomes = trends.rows * 8 * (2 + len(trends.values))
    assert peak < becomes + 12 * (1 << 20)


def test_what_the_library_has_no_room_for_is_refused_while_it_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("app.domain.recordings.MOST_SAMPLES", 100_000)

    with pytest.raises(Refused, match="samples, which is what the library takes"):
        read_named_trends(io.BytesIO(a_long_file(80_000)), KNOWN, check_size)


def test_a_file_that_is_too_large_is_refused_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.exchange.plain_trends.MOST_BYTES", 1000)

    with pytest.raises(Refused, match="the file is larger than"):
        read_plain_trends(io.BytesIO(a_long_file(100)), KNOWN)
