"""Two processes over one database: within a second both show what one of them, or the clock, has
brought into force."""

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from threading import Barrier
from urllib.request import Request, urlopen

import pytest
from sqlmodel import select

from app.actions.sign_ins import sign_in
from app.domain.people import Role
from app.main import wall_clock
from app.storage.database import Database
from app.storage.shift_checks import ShiftCheckRow
from app.web.sessions import COOKIE
from tests.builders import (
    PASSWORD,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_signed_revision,
)

WITHIN_S = 1.0
_ROOT = Path(__file__).parents[2]


@pytest.fixture
def addresses(database_url: str, tmp_path: Path) -> Iterator[list[str]]:
    """Revision 1 in force, and two services that have shown it already."""
    database = Database(database_url)
    with database.writing() as tx:
        a_signed_revision(tx, now=wall_clock() - timedelta(days=1))
    database.dispose()
    ports = [free_port() for _ in range(2)]
    running = [started(database_url, port, tmp_path) for port in ports]
    found = [f"http://127.0.0.1:{port}/skerry/limits?age=7+mo" for port in ports]
    try:
        for address, process in zip(found, running, strict=True):
            until(lambda a=address: shown(a) == 1, process=process)  # type: ignore[misc]
        yield found
    finally:
        for process in running:
            process.terminate()
            process.wait(timeout=180)


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port: int = listening.getsockname()[1]
        return port


def started(url: str, port: int, folder: Path) -> "subprocess.Popen[bytes]":
    given = {
        "MARCHSTONE_DATABASE_URL": url,
        "MARCHSTONE_PORT": str(port),
        "MARCHSTONE_DATA_DIR": str(folder),
    }
    command = [sys.executable, "-c", "from app.cli.commands import run; run()", "serve"]
    return subprocess.Popen(command, cwd=_ROOT, env=os.environ | given, stdout=subprocess.DEVNULL)


def shown(address: str) -> int | None:
    """The number of the revision; None while nobody answers."""
    try:
        with urlopen(address, timeout=180) as answer:  # noqa: S310 - our own
            found = re.search(r"Revision (\d+), in force", answer.read().decode())
    except OSError:
        return None
    return int(found[1]) if found else None


def until(holds: Callable[[], bool], *, process: "subprocess.Popen[bytes]") -> None:
    for _ in range(1800):
        assert process.poll() is None, "it ended by itself"
        if holds():
            return
        time.sleep(0.1)
    pytest.fail("it never answered")


def seconds_until_both(addresses: list[str], revision: int) -> list[float]:
    """How long after now the last answer with another revision was asked for."""
    began, late = time.monotonic(), [0.0 for _ in addresses]
    while time.monotonic() - began < 5:
        for number, address in enumerate(addresses):
            asked = time.monotonic() - began
            if shown(address) != revision:
                late[number] = asked
        if max(late) < time.monotonic() - began - 2:
            break
        time.sleep(0.02)
    return late


def test_a_shift_check_sent_to_both_at_once_is_taken_once(
    database_url: str, addresses: list[str]
) -> None:
    database = Database(database_url)
    with database.writing() as tx:
        a_device(tx)
        a_person(tx, Role.CREW)
    with database.writing() as tx:
        token = sign_in(
            tx,
            agency="skerry",
            username="cruz",
            password=PASSWORD,
            now=wall_clock(),
            address="127.0.0.1",
        )
    together = Barrier(4)

    def send(address: str) -> object:
        together.wait()
        return sent(address, token)

    with ThreadPoolExecutor(4) as phones:
        found = list(phones.map(send, addresses * 2))

    with database.reading() as tx:
        stored = [row.id for row in tx.exec(select(ShiftCheckRow))]
    database.dispose()
    assert len(stored) == 1
    assert found == stored * 4


def sent(address: str, token: str) -> object:
    """The number of the check."""
    check = {
        "device": "boat-3",
        "preset": PRESET,
        "state_read": "power-on",
        "readings": {"heart-rate-low": {"state": "on", "limit": 75}},
        "answers": {"alarms-on": "yes"},
    }
    headers = {
        "Content-Type": "application/json",
        "Idempotency-Key": "one and the same",
        "Cookie": f"{COOKIE}={token}",
    }
    place = address.partition("/skerry/")[0] + "/api/v1/skerry/checks"
    with urlopen(Request(place, json.dumps(check).encode(), headers), timeout=180) as answer:  # noqa: S310 - our own
        return json.loads(answer.read())["id"]


def test_both_show_what_a_third_has_signed(database_url: str, addresses: list[str]) -> None:
    database = Database(database_url)
    with database.writing() as tx:
        a_signed_revision(tx, document=a_document({"spo2-low": 91}), now=wall_clock())

    late = seconds_until_both(addresses, revision=2)

    database.dispose()
    assert max(late) < WITHIN_S


def time_to_ask(addresses: list[str]) -> timedelta:
    """Longer on a busy machine, which must still have asked before the time comes."""
    began = time.monotonic()
    for address in addresses:
        shown(address)
    return timedelta(seconds=time.monotonic() - began)


def test_both_turn_when_its_time_has_come(database_url: str, addresses: list[str]) -> None:
    database = Database(database_url)
    begins = wall_clock() + max(timedelta(seconds=3), 20 * time_to_ask(addresses))
    with database.writing() as tx:
        after = a_document({"spo2-low": 91})
        a_signed_revision(tx, document=after, now=wall_clock(), in_force_at=begins)
    database.dispose()
    assert [shown(address) for address in addresses] == [1, 1]
    time.sleep(max(0.0, (begins - wall_clock()).total_seconds()))

    assert max(seconds_until_both(addresses, revision=2)) < WITHIN_S
