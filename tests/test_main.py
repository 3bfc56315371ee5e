"""The service as a process of its own: what it says, how it starts and how it stops."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

import pytest

PATIENCE = 180  # seconds: nothing is timed here, and machines may be busy


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port: int = listening.getsockname()[1]
        return port


def started(folder: Path, **environ: object) -> subprocess.Popen[str]:
    wanted = {"DATA_DIR": folder, "PORT": free_port(), **environ}
    return subprocess.Popen(
        [sys.executable, "-m", "app.cli.commands", "serve"],
        env=os.environ | {f"MARCHSTONE_{name}": str(value) for name, value in wanted.items()},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@contextmanager
def serving(folder: Path, **environ: object) -> Iterator[subprocess.Popen[str]]:
    process = started(folder, **environ)
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    return process.stdout.readline()


def address_in(line: str) -> str:
    found = re.search(r"http://127\.0\.0\.1:\d+", line)
    assert found is not None, line
    return found[0]


def test_the_first_page_answers_and_the_printed_link_leads_to_the_set_up(tmp_path: Path) -> None:
    with serving(tmp_path) as process:
        address = address_in(first_line(process))
        with urlopen(f"{address}/") as answer:  # noqa: S310 - our own address
            assert answer.status == 200
        assert "There is no administrator yet." in first_line(process)

        with urlopen(first_line(process).strip()) as answer:  # noqa: S310 - our own address
            assert "The first administrator" in answer.read().decode()


@pytest.mark.skipif(os.name != "posix", reason="Signals are sent otherwise there")
def test_ctrl_c_stops_it_without_a_fuss(tmp_path: Path) -> None:
    with serving(tmp_path) as process:
        address = address_in(first_line(process))
        with urlopen(f"{address}/") as answer:  # noqa: S310 - our own address
            answer.read()

        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=PATIENCE)

        assert (process.returncode, said) == (0, "")


def test_a_busy_port_is_told_with_what_to_do(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with serving(tmp_path, PORT=port) as process:
            _, said = process.communicate(timeout=PATIENCE)

    assert process.returncode == 3
    assert f"127.0.0.1:{port}" in said
    assert "MARCHSTONE_PORT" in said
    assert "Traceback" not in said


def test_a_data_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with serving(tmp_path / "file" / "data") as process:
        _, said = process.communicate(timeout=PATIENCE)

    assert process.returncode == 3
    assert "MARCHSTONE_DATA_DIR" in said
    assert "Traceback" not in said


def test_a_list_of_leaked_passwords_that_will_not_do_is_told(tmp_path: Path) -> None:
    (tmp_path / "list").write_text("sunshine\n")
    with serving(tmp_path / "data", LEAKED_PASSWORDS=tmp_path / "list") as process:
        _, said = process.communicate(timeout=PATIENCE)

    assert process.returncode == 3
    assert "MARCHSTONE_LEAKED_PASSWORDS: the line at byte 0 is no SHA-1" in said
    assert not (tmp_path / "data").exists()


def test_a_misspelt_setting_is_told(tmp_path: Path) -> None:
    with serving(tmp_path, PROT=8000) as process:
        _, said = process.communicate(timeout=PATIENCE)

    assert process.returncode == 2
    assert "MARCHSTONE_PROT" in said


def wait_until_refused(port: int) -> None:
    """It takes no more."""
    give_up = time.monotonic() + PATIENCE
    while time.monotonic() < give_up:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=PATIENCE).close()
        except ConnectionRefusedError:
            return
        time.sleep(0.05)
    pytest.fail("it still takes connections")


@pytest.mark.skipif(os.name != "posix", reason="Signals are sent otherwise there")
def test_asked_to_stop_it_answers_what_it_has_begun_and_takes_no_more(tmp_path: Path) -> None:
    with serving(tmp_path) as process:
        port = int(address_in(first_line(process)).rpartition(":")[2])
        with urlopen(f"http://127.0.0.1:{port}/health", timeout=PATIENCE) as answer:
            answer.read()  # it is ready
        with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as half:
            half.sendall(b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Length: 8\r\n")
            half.sendall(b"Content-Type: application/x-www-form-urlencoded\r\n")
            half.sendall(b"Expect: 100-continue\r\n\r\n")
            assert half.recv(100).startswith(b"HTTP/1.1 100")  # it has begun, and waits
            half.sendall(b"age")

            process.send_signal(signal.SIGTERM)
            wait_until_refused(port)
            half.sendall(b"ncy=x")

            assert half.recv(100).startswith(b"HTTP/1.1 401")
        process.communicate(timeout=PATIENCE)

    assert process.returncode in (0, -signal.SIGTERM)


def test_it_logs_json_lines_without_addresses(tmp_path: Path) -> None:
    with serving(tmp_path) as process:
        address = address_in(first_line(process))
        with urlopen(f"{address}/health") as answer:  # noqa: S310 - our own address
            answer.read()
        process.send_signal(signal.SIGINT)
        said, _ = process.communicate(timeout=PATIENCE)

    told = [json.loads(line) for line in said.splitlines() if line.startswith("{")]
    (line,) = (one for one in told if one["logger"] == "marchstone")
    assert (line["route"], line["status"], line["event"]) == ("/health", 200, "answered")
