"""A disk that really is full: a small file system of memory, where this user may mount one."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.faults.own_server import OwnServer
from tests.faults.rounds import Serving
from tests.faults.server_gone import answers_again

MISSING = "A disk that is really full was NOT tried: only root on Linux may mount a small one"
_MOST_LEFT = 256 * 1024
_MOUNT, _UNMOUNT = Path("/usr/bin/mount"), Path("/usr/bin/umount")
_FULL_WITHIN_S = 60


@contextmanager
def small_disk(place: Path, *, mib: int) -> Iterator[Path | None]:
    """None where it cannot be mounted."""
    if sys.platform != "linux" or os.geteuid() != 0 or not _MOUNT.exists():
        yield None
        return
    mount: list[str | Path] = [_MOUNT, "-t", "tmpfs", "-o", f"size={mib}m", "tmpfs", place]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        yield None
        return
    try:
        yield place
    finally:
        subprocess.run([_UNMOUNT, "--lazy", place], check=True)


@dataclass
class DiskFull:
    """Something else fills it, all but a little; what the service writes does the rest."""

    place: Path
    server: OwnServer | None = None

    def strike(self, serving: Serving, dice: Random) -> None:
        self._fill(dice.randrange(_MOST_LEFT))
        until = time.monotonic() + _FULL_WITHIN_S
        while time.monotonic() < until and not self._all_refused(serving):
            time.sleep(0.05)

    def mend(self, serving: Serving) -> None:
        refused = self._all_refused(serving)
        self._ballast.unlink()
        if self.server is not None:
            self.server.start()  # where even its log found no room, it had to end
        try:
            answers_again(serving)
        finally:
            serving.kill(Random(0))
        assert refused, "the disk was full, and nobody was told"

    @property
    def _ballast(self) -> Path:
        return self.place / "ballast"

    def _fill(self, but: int) -> None:
        free = os.statvfs(self.place)
        with self._ballast.open("wb") as file, suppress(OSError):
            os.posix_fallocate(file.fileno(), 0, max(1, free.f_bavail * free.f_frsize - but))

    def _all_refused(self, serving: Serving) -> bool:
        return all(client.refused for client in serving.clients.values())
