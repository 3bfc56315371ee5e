"""Processes for long work that the service starts beside itself, and that end with it."""

import subprocess
import sys
import threading
from collections.abc import Mapping
from types import TracebackType
from typing import Self

STOPS_WITHIN_S = 5.0
AGAIN_AFTER_S = 2.0
COMMAND: tuple[str, ...] = (sys.executable, "-m", "app.cli.commands", "work", "--beside")


class WorkersBeside:
    """One that dies is started again; each ends when the service does, even if it is killed,
    because its input then ends."""

    def __init__(self, count: int, environ: Mapping[str, str]) -> None:
        self._environ = dict(environ)
        self._over = threading.Event()
        self._threads = [
            threading.Thread(target=self._keep_one, name=f"worker-{number}", daemon=True)
            for number in range(1, count + 1)
        ]

    def __enter__(self) -> Self:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(
        self, _: type[BaseException] | None, __: BaseException | None, ___: TracebackType | None
    ) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join(timeout=STOPS_WITHIN_S + AGAIN_AFTER_S)

    def _keep_one(self) -> None:
        while not self._over.is_set():
            self._run_one()
            self._over.wait(AGAIN_AFTER_S)

    def _run_one(self) -> None:
        with subprocess.Popen(COMMAND, stdin=subprocess.PIPE, env=self._environ) as running:  # noqa: S603 - our own command
            while running.poll() is None and not self._over.wait(0.1):
                pass
            running.terminate()
            try:
                running.wait(STOPS_WITHIN_S)
            except subprocess.TimeoutExpired:
                running.kill()
