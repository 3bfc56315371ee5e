"""`marchstone demo` as people start it: another process, stopped by Ctrl-C."""

import os
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.house.checkout import ROOT


@contextmanager
def demo(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """The address and the lines printed up to it; Ctrl-C must then end it without a fault."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = str(probe.getsockname()[1])
    process = subprocess.Popen(
        [sys.executable, "-m", "app.cli.commands", "demo", "--port", port, "--data", "invented"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "MARCHSTONE_DATABASE_URL": "sqlite:///real"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        lines = []
        for line in process.stdout:
            lines.append(line.rstrip())
            if "listens on" in line:
                break
        yield f"http://127.0.0.1:{port}", lines
        process.send_signal(signal.SIGINT)
        _, complaints = process.communicate(timeout=180)
        assert (process.returncode, complaints) == (0, "")
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()


def page(address: str) -> str:
    with urllib.request.urlopen(address, timeout=180) as answer:  # noqa: S310 - our own
        return str(answer.read().decode())


def test_the_demo_starts_twice_over_the_same_data_and_stops_cleanly(tmp_path: Path) -> None:
    with demo(tmp_path) as (address, lines):
        told = "\n".join(lines)
        assert f"The data lie in {tmp_path / 'invented'}" in told
        assert "medical director  dana" in told
        limits = page(f"{address}/skerry-isles/limits?age=7+mo")
        assert "Revision 2" in limits
        assert "all invented" in limits
        assert "all invented" in page(f"{address}/sign-in")

    with demo(tmp_path) as (address, again):
        assert again[4:14] == lines[4:14]
        assert "Revision 2" in page(f"{address}/skerry-isles/limits?age=7+mo")

    assert [path.name for path in tmp_path.iterdir()] == ["invented"]
