"""A PostgreSQL server of our own for one test run, on a unix socket in a temporary folder."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import quote

MISSING = "PostgreSQL was NOT tested: neither a system server nor the package pgserver was found"
_SPEED_OVER_SAFETY = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


def binaries() -> Path | None:
    """The newest system server; its folder is rarely on the search path."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda path: int(path.parts[-3]) if path.parts[-3].isdigit() else 0,
    )
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb") or _named_by_pg_config()
    return None if on_path is None else Path(on_path).parent


def _named_by_pg_config() -> str | None:
    tool = shutil.which("pg_config")
    if tool is None:
        return None
    answer = subprocess.run([tool, "--bindir"], capture_output=True, text=True, check=True)
    return shutil.which("initdb", path=answer.stdout.strip())


def start(stack: ExitStack) -> str | None:
    """The address of its maintenance database; the server ends with the stack."""
    bin_dir = binaries()
    if bin_dir is not None:
        return stack.enter_context(_system_server(bin_dir))
    if find_spec("pgserver") is not None:
        return stack.enter_context(_packaged_server())
    return None


@contextmanager
def _system_server(bin_dir: Path) -> Iterator[str]:
    with tempfile.TemporaryDirectory(prefix="ms-pg-", ignore_cleanup_errors=True) as place:
        give_to_postgres(Path(place))
        data, log = f"{place}/data", f"{place}/log"
        run_as_postgres(
            bin_dir / "initdb", "-D", data, "-U", "marchstone", "-A", "trust", "-E", "UTF8", "-N"
        )
        options = f"-c listen_addresses='' -k {place} {_SPEED_OVER_SAFETY}"
        run_as_postgres(bin_dir / "pg_ctl", "-D", data, "-l", log, "-w", "-o", options, "start")
        with stopped_with_us(bin_dir, data):
            yield f"postgresql+psycopg://marchstone@/postgres?host={quote(place)}"


@contextmanager
def stopped_with_us(bin_dir: Path, data: str) -> Iterator[None]:
    """Waits for our end of a pipe to close, which happens however we end, killed included."""
    stop = 'cat; "$0" -D "$1" -m immediate -w stop; rm -rf "${1%/data}"'
    with subprocess.Popen(
        [*as_postgres(), "sh", "-c", stop, str(bin_dir / "pg_ctl"), data],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
        cwd="/",
    ):
        yield


@contextmanager
def _packaged_server() -> Iterator[str]:
    with tempfile.TemporaryDirectory(prefix="ms-pg-", ignore_cleanup_errors=True) as place:
        # The package warns without this variable, and warnings are errors here.
        os.environ.setdefault("XDG_RUNTIME_DIR", place)
        pgserver = import_module("pgserver")
        packaged = pgserver.get_server(f"{place}/data", cleanup_mode="stop")
        try:
            yield packaged.get_uri().replace("postgresql://", "postgresql+psycopg://")
        finally:
            packaged.cleanup()


def give_to_postgres(place: Path) -> None:
    """PostgreSQL refuses to run as root."""
    if os.geteuid() == 0:
        shutil.chown(place, user="postgres")


def as_postgres() -> list[str]:
    return ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []


def run_as_postgres(*command: str | Path) -> None:
    done = subprocess.run(
        [*as_postgres(), *map(str, command)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        cwd="/",
    )
    if done.returncode:
        raise RuntimeError(f"{command[0]} failed: {done.stderr}")
