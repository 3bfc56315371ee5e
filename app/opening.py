"""Opens the house: its schema is brought up to date, after a backup."""

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from app.domain.backups import Backup
from app.domain.errors import MarchstoneError, NotNow
from app.exchange.backup_file import write_backup
from app.places import program_version
from app.settings import Settings
from app.storage.backups import check_copy
from app.storage.database import Database
from app.storage.migrating import open_database


class CannotWrite(MarchstoneError):
    status = 503
    title = "The file cannot be written"


def open_house(settings: Settings, *, now: datetime) -> Database:
    """What was in PostgreSQL before an upgrade then lies under `backups`, for `restore`."""

    def keep(schema: str, write: Callable[[Path], None]) -> None:
        name = f"before-upgrade-from-{schema}-{now:%Y%m%dT%H%M%SZ}.zip"
        target = settings.data_dir / "backups" / name
        with new_file(target) as part, beside(target) as data:
            write(data)
            written(part, data, None, now)

    return open_database(settings.database_url, now=now, keep=keep)


def written(part: Path, data: Path, agency: str | None, now: datetime) -> tuple[Backup, str]:
    schema, heads = check_copy(data)
    backup = Backup(now, program_version(), schema, heads, agency)
    with part.open("wb") as target:
        digest = write_backup(target, data, backup)
        target.flush()
        os.fsync(target.fileno())
    return backup, digest


@contextmanager
def new_file(target: Path) -> Iterator[Path]:
    """Under its name only when it is whole."""
    if target.exists():
        raise NotNow(f"{target} is there already; a backup never goes over another file.")
    part = target.with_name(f"{target.name}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        yield part
        part.rename(target)
    except OSError as error:
        raise CannotWrite(f"{target} cannot be written: {error.strerror or error}.") from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


@contextmanager
def beside(target: Path) -> Iterator[Path]:
    """A place for the data on the same disk, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix=".marchstone-", dir=target.parent) as place:
        yield Path(place) / "data.sqlite3"
