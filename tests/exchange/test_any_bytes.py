"""Whatever bytes come, every reader takes them or refuses them in words, and soon."""

import importlib
import inspect
import json
import pkgutil
import string
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import app.exchange
from app.domain.ages import Age
from app.domain.confirmations import read_hash
from app.domain.device_tags import check_tag
from app.domain.errors import MarchstoneError
from app.domain.outer_bounds import read_formula
from app.domain.sampling import parse_share
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.backup_file import read_backup
from app.exchange.bounds_csv import read_bounds
from app.exchange.known_fleets import KnownFleet
from app.exchange.plain_trends import NotPlainError, read_plain_trends
from app.exchange.profile_files import read_profile_file
from app.exchange.profile_json import read_profile
from app.exchange.profile_xlsx import write_workbook
from app.exchange.profile_xlsx_read import read_workbook
from app.exchange.reference_csv import read_reference
from app.exchange.register_csv import read_devices
from app.exchange.report_files import read_report_file
from app.exchange.report_json import read_report, read_report_list
from app.exchange.reports_csv import read_reports, read_rows
from app.exchange.trends_csv import read_by_row, read_named_trends, read_trends
from app.exchange.trends_files import read_trends_file
from app.exchange.trends_parquet import read_parquet_trends
from tests.builders import a_document
from tests.reading_files import GOOD, a_file

EXAMPLES = Path(__file__).parents[1] / "examples"
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
FLEET = KnownFleet({"boat-3": "dunlin"}, [])
VITALS = frozenset(VITAL_SIGNS)
PROFILE = read_profile(json.dumps(a_document() | {"agency": "Skerry"}).encode())
REPORT = json.dumps(
    {
        "device": "boat-3",
        "preset": "CHILD",
        "state_read": "power-on",
        "read_at": "2026-03-01T08:00:00Z",
        "readings": {"heart-rate-low": {"state": "on", "limit": 90}},
    }
).encode()
TABLE = b"vital_sign,age_from,age_to,p01,p05,p50,p95,p99\nheart-rate,0 d,1 y,90,100,130,160,180\n"
TRENDS = (EXAMPLES / "trends.csv").read_bytes()[:2000]
READINGS = a_file(GOOD)
WORKBOOK = write_workbook(a_document() | {"agency": "Skerry"})
Read = Callable[[bytes], object]


def read_plainly(raw: bytes) -> None:
    """What is not plain is read by another of the readers."""
    with suppress(NotPlainError):
        read_plain_trends(BytesIO(raw), VITALS)


READERS: dict[str, tuple[Read, bytes]] = {
    "read_bounds": (
        lambda raw: read_bounds(BytesIO(raw), "own"),
        b"vital_sign,side,age_from,age_to,value,unit,grade,source\n"
        b"heart-rate,low,0 d,1 y,70 + 2 * age_years,/min,danger,own\n",
    ),
    "read_by_row": (lambda raw: read_by_row(BytesIO(raw), VITALS), TRENDS),
    "read_devices": (
        lambda raw: read_devices(raw.decode("utf-8", "replace")),
        b"tag,model,station\nroad-1,dunlin,North\n",
    ),
    "read_named_trends": (lambda raw: read_named_trends(BytesIO(raw), VITALS), TRENDS),
    "read_parquet_trends": (lambda raw: read_parquet_trends(BytesIO(raw), VITALS), b"PAR1"),
    "read_profile": (read_profile, json.dumps(a_document() | {"agency": "S"}).encode()),
    "read_profile_file": (read_profile_file, WORKBOOK),
    "read_reference": (lambda raw: read_reference(BytesIO(raw), "own"), TABLE),
    "read_report": (lambda raw: read_report(raw, idempotency_key="key", now=NOW), REPORT),
    "read_report_file": (lambda raw: read_report_file(BytesIO(raw), FLEET, now=NOW), READINGS),
    "read_report_list": (
        lambda raw: read_report_list(raw, idempotency_key="key", now=NOW),
        b"[" + REPORT + b"]",
    ),
    "read_reports": (lambda raw: read_reports(BytesIO(raw), PROFILE, NOW), READINGS),
    "read_rows": (lambda raw: read_rows(BytesIO(raw), NOW), READINGS),
    "read_plain_trends": (read_plainly, TRENDS),
    "read_trends": (lambda raw: read_trends(BytesIO(raw), VITALS), TRENDS),
    "read_trends_file": (lambda raw: read_trends_file(BytesIO(raw), VITALS), TRENDS),
    "read_workbook": (read_workbook, WORKBOOK),
}
OF_PARTS = {"read_backup", "read_bound", "read_formula", "read_lines", "read_span"}
"""A backup is tried below; the others are handed cells and lines by the readers above."""
WORDS: dict[str, Callable[[str], object]] = {
    "age": Age.parse,
    "formula": read_formula,
    "share": lambda text: parse_share(text, column="x"),
    "hash": read_hash,
    "tag": check_tag,
}
often = settings(
    max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


def readers_there_are() -> Iterator[str]:
    for module in pkgutil.iter_modules(app.exchange.__path__, "app.exchange."):
        for name, found in inspect.getmembers(importlib.import_module(module.name)):
            if name.startswith("read_") and inspect.isfunction(found):
                yield name


def test_every_reader_is_tried() -> None:
    assert set(readers_there_are()) - OF_PARTS == READERS.keys()


def takes_or_refuses(read: Callable[[Any], object], given: Any) -> None:
    """In words, as a refusal or, where the caller tells the place, as a plain ValueError."""
    try:
        read(given)
    except MarchstoneError as refused:
        told = refused.message
    except ValueError as error:
        assert type(error) is ValueError  # noqa: PT017 - no kin of it, as Unicode's, is meant
        told = str(error)
    else:
        return
    assert told


NASTY = [
    b"", b",", b'"', b"\n", b"\r", b"\0", b"\xff\xfe", b"NaN", b"1e999", b"-1", b"9" * 400, b"{",
    b"]", b"\xed\xa0\x80",
]  # fmt: skip
SHORT = st.text(string.digits + " .+-*/ymd%e", max_size=20)


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """Pieces cut out, doubled, or replaced by bytes that mean something somewhere."""
    content = whole
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(content)))
        end = draw(st.integers(start, min(len(content), start + 40)))
        again = content[start:end] * 2
        piece = draw(st.one_of(st.binary(max_size=8), st.sampled_from([*NASTY, again])))
        content = content[:start] + piece + content[end:]
    return content


@pytest.mark.parametrize("name", sorted(READERS))
def test_any_bytes_are_taken_or_refused(name: str) -> None:
    read, _ = READERS[name]

    @often
    @given(raw=st.binary(max_size=300))
    def try_it(raw: bytes) -> None:
        takes_or_refuses(read, raw)

    try_it()


@pytest.mark.parametrize("name", sorted(READERS))
def test_a_damaged_file_is_taken_or_refused(name: str) -> None:
    read, whole = READERS[name]

    @often
    @given(raw=damaged(whole))
    def try_it(raw: bytes) -> None:
        takes_or_refuses(read, raw)

    try_it()


def test_a_workbook_whose_packing_is_damaged_is_refused() -> None:
    """Found by the tests above: each byte of the first packed part, turned in turn."""
    start = WORKBOOK.index(b"\x00\x00", 30) + 2

    for place in range(start, start + 150):
        raw = bytearray(WORKBOOK)
        raw[place] ^= 0xFF
        takes_or_refuses(read_profile_file, bytes(raw))


@pytest.mark.parametrize("name", sorted(WORDS))
def test_any_word_is_taken_or_refused(name: str) -> None:
    @often
    @given(text=st.one_of(st.text(max_size=40), SHORT))
    def try_it(text: str) -> None:
        takes_or_refuses(WORDS[name], text)

    try_it()


def test_any_backup_is_taken_or_refused(tmp_path: Path) -> None:
    file, number = tmp_path / "any.zip", iter(range(10**6))

    @often
    @given(raw=st.one_of(st.binary(max_size=200), damaged(WORKBOOK)))
    def try_it(raw: bytes) -> None:
        file.write_bytes(raw)
        takes_or_refuses(lambda _: read_backup(file, tmp_path / f"{next(number)}"), raw)

    try_it()
