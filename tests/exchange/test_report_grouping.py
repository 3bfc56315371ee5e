"""What was looked at further up is not looked at again; what comes of a file stays the same."""

import gc
import io
import random
import tracemalloc
from datetime import UTC, datetime
from typing import Any

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.exchange import report_grouping
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import ReportFile, read_report_file

NOW = datetime(2026, 4, 1, tzinfo=UTC)
HEADER = "device,read_at,state_read,preset,alarm,reading,unit,model,reader"
CELLS: dict[str, tuple[str, ...]] = {
    "device": ("boat-3", "boat-3", "boat-3", "boat-4", "boat-4", " boat-4", "boat-9", ""),
    "read_at": (
        "2026-03-02T09:00:00Z",
        "2026-03-02T09:00:00Z",
        "2026-03-02T10:00:00+01:00",
        " 2026-03-02T09:00:00Z",
        "2026-03-02T09:00:00",
        "2027-03-02T09:00:00Z",
    ),
    "state_read": ("power-on", "power-on", "after-category", "in-use", "asleep"),
    "preset": ("CHILD", "CHILD", "ADULT", " CHILD ", "*", "\x07"),
    "alarm": ("heart-rate-low", "heart-rate-high", "spo2-low", "asystole", "audio-volume", "odd"),
    "reading": ("90", "90", "170", "off", "on", "not-fitted", "could-not-read: dark", "4 5"),
    "unit": ("", "", "", "kPa", "stones"),
    "model": ("", "", "", "dunlin", "petrel"),
    "reader": ("", "", "", "Lou", "Lou\t"),
}
ROWS_OF_A_REPORT = (1, 2, 5)


def a_random_file(dice: random.Random, *, quoted: bool) -> bytes:
    """Half of its reports stand in it several times, for another device."""
    blocks: list[list[str]] = []
    for _ in range(dice.randint(1, 30)):
        rows = dice.choice(blocks) if blocks and dice.random() < 0.5 else _report(dice)
        tag = dice.choice(CELLS["device"])
        blocks.append([",".join((tag, *row.split(",")[1:])) for row in rows])
    rows = [row for block in blocks for row in block]
    if quoted:
        rows = [",".join(f'"{cell}"' for cell in row.split(",")) for row in rows]
    return "\n".join((HEADER, *rows, "")).encode()


def _report(dice: random.Random) -> list[str]:
    own = {name: dice.choice(CELLS[name]) for name in ("read_at", "state_read", "preset")}
    own |= {name: dice.choice(CELLS[name]) for name in ("model", "reader")}
    rows = []
    for _ in range(dice.choice(ROWS_OF_A_REPORT)):
        other = {name: dice.choice(CELLS[name]) for name in ("alarm", "reading", "unit")}
        cells = {"device": "boat-3"} | own | other
        rows.append(",".join(cells[name] for name in HEADER.split(",")))
    return rows


def read(content: bytes) -> ReportFile:
    known = KnownFleet({"boat-3": "dunlin", "boat-4": "dunlin"}, [])
    return read_report_file(io.BytesIO(content), known, now=NOW)


def what_came_of(file: ReportFile) -> Any:
    reports = [
        (*one.place, one.told, one.key, one.rows, one.found.packed, one.found.readings)
        for one in file.reports
    ]
    return reports, file.faults, file.refused, list(file.rows.lines)


@pytest.mark.parametrize("quoted", [False, True], ids=["plain", "quoted"])
@pytest.mark.parametrize("seed", range(60))
def test_a_file_is_read_as_if_every_row_stood_alone(
    seed: int, quoted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = a_random_file(random.Random(seed), quoted=quoted)  # noqa: S311 - no secret

    quickly = what_came_of(read(content))
    grouping = report_grouping.Grouping
    monkeypatch.setattr(grouping, "_head", grouping._read_head)
    monkeypatch.setattr(grouping, "_found_in", grouping._look_at)
    one_by_one = what_came_of(read(content))

    assert quickly == one_by_one


@pytest.mark.parametrize("seed", range(60))
def test_quotes_around_every_cell_change_nothing(seed: int) -> None:
    plain = a_random_file(random.Random(seed), quoted=False)  # noqa: S311 - no secret
    quoted = a_random_file(random.Random(seed), quoted=True)  # noqa: S311 - no secret

    assert what_came_of(read(plain)) == what_came_of(read(quoted))


def test_a_report_takes_few_bytes_whatever_it_holds() -> None:
    """So a large file takes little more memory than a small one."""

    def kept(devices: int) -> int:
        tags = [f"kit-{number:05}" for number in range(devices)]
        rows = [f"{tag},{row}" for tag in tags for row in ALIKE]
        known = KnownFleet(dict.fromkeys(tags, "dunlin"), [])
        source = io.BytesIO("\n".join((SHORT, *rows, "")).encode())
        tracemalloc.start()
        try:
            file = read_report_file(source, known, now=NOW)
            gc.collect()
            assert len(file.reports) == devices
            return tracemalloc.get_traced_memory()[0]
        finally:
            tracemalloc.stop()

    kept(10)  # what is made once
    assert kept(3000) - kept(1000) < 2000 * 200


SHORT = "device,read_at,state_read,preset,alarm,reading"
ALIKE = [f"2026-03-02T09:00:00Z,power-on,CHILD,{alarm},off" for alarm in sorted(ALARM_CONDITIONS)]


def test_random_files_hold_good_and_wrong_rows() -> None:
    files = [read(a_random_file(random.Random(seed), quoted=False)) for seed in range(60)]  # noqa: S311

    assert sum(len(file.reports) for file in files) > 60
    assert sum(file.refused for file in files) > 60
