"""Plugs together what keeps an installation alive: backups and the way back, and the self-test."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from app.actions.backups import tell_backup
from app.domain.backups import Backup
from app.domain.errors import NotFound, NotNow, Refused
from app.domain.selftest import Observed
from app.exchange.backup_file import read_backup
from app.exchange.leaked_passwords import check_leaked_passwords
from app.lookups.backups import last_backup_at
from app.lookups.ledger import LedgerProof, prove_ledger
from app.lookups.long_work import waiting_since
from app.opening import beside, new_file, written
from app.settings import Settings
from app.storage import observing
from app.storage.agencies import agency_by_key
from app.storage.backups import (
    check_copy,
    copy_agency,
    copy_database,
    put_agency_in,
    put_back,
)
from app.storage.database import Database
from app.storage.migrating import DatabaseUnusable, newest_schema, schema_of, sqlite_file


@dataclass(frozen=True)
class Kept:
    """`told` False: the file is good, but the ledger could not take a note of it."""

    file: Path
    sha256: str
    backup: Backup
    told: bool = True


def back_up(settings: Settings, file: Path | None, *, now: datetime) -> Kept:
    """The whole installation, while it runs."""
    target = file or settings.data_dir / "backups" / f"marchstone-{now:%Y%m%dT%H%M%SZ}.zip"
    with new_file(target) as part, beside(target) as data:
        copy_database(settings.database_url, data, now=now)
        backup, digest = written(part, data, None, now)
    told = _tell(settings, target.name, digest, now)
    return Kept(target, digest, backup, told)


def export_agency(settings: Settings, key: str, file: Path, *, now: datetime) -> Kept:
    """One agency by itself, in the same form."""
    _check_agency(settings, key)
    with new_file(file) as part, beside(file) as data:
        copy_agency(settings.database_url, data, agency=key, now=now)
        backup, digest = written(part, data, key, now)
    return Kept(file, digest, backup)


def restore(settings: Settings, file: Path, *, now: datetime) -> tuple[Backup, LedgerProof]:
    """Into a place where nothing is; proven before it is told to be there."""
    with _unpacked(settings, file) as (backup, data):
        if backup.agency is not None:
            raise NotNow(
                f"This file holds one agency, {backup.agency}: bring it in with marchstone import."
            )
        put_back(data, settings.database_url, now=now)
    return backup, _proof(settings)


def import_agency(settings: Settings, file: Path, *, now: datetime) -> tuple[Backup, LedgerProof]:
    """Into an installation that has no agency yet."""
    with _unpacked(settings, file) as (backup, data):
        if backup.agency is None:
            raise NotNow("This file holds a whole installation: use marchstone restore.")
        put_agency_in(data, settings.database_url, now=now)
    return backup, _proof(settings)


def observed(settings: Settings, *, now: datetime) -> Observed:
    """Changes nothing. Raises `DatabaseUnusable` where there is no database to look at."""
    file = sqlite_file(settings.database_url)
    if file is not None and not file.is_file():
        raise DatabaseUnusable(
            f"There is no database at {file}: start the service once, or set MARCHSTONE_DATA_DIR."
        )
    house = Database(settings.database_url)
    try:
        schema = (schema_of(house), newest_schema())
        stands_in_the_way = observing.unwritable(house) if schema[0] else ""
        with house.reading() as tx:
            proof = prove_ledger(tx) if schema[0] == schema[1] else LedgerProof({}, head_found=True)
            return Observed(
                now=now,
                host=settings.host,
                https=settings.public_url.startswith("https://"),
                secure_cookies=settings.secure_cookies,
                unwritable=stands_in_the_way,
                damage=observing.damage(settings.database_url),
                schema=schema,
                database_bytes=observing.size_of(tx),
                free_bytes=shutil.disk_usage(_existing(settings.data_dir)).free,
                server_now=observing.clock_of_server(tx),
                last_entry_at=observing.last_entry_at(tx) if proof.chains else None,
                entries=sum(chain.entries for chain in proof.chains.values()),
                broken=_broken(proof),
                last_backup_at=last_backup_at(tx) if proof.chains else None,
                waiting_since=waiting_since(tx) if schema[0] == schema[1] else None,
                leaks_unusable=_unusable(settings.leaked_passwords),
            )
    finally:
        house.dispose()


def _unusable(leaks: Path | None) -> str:
    try:
        if leaks is not None:
            check_leaked_passwords(leaks)
    except Refused as refused:
        return refused.faults[0].reason
    return ""


def _broken(proof: LedgerProof) -> tuple[str, ...]:
    return tuple(f"{key}: {one.why}" for key, one in proof.chains.items() if not one.holds)


def _existing(folder: Path) -> Path:
    """The nearest one above that is there: the data folder may not be made yet."""
    return next(path for path in (folder, *folder.absolute().parents) if path.exists())


def _check_agency(settings: Settings, key: str) -> None:
    house = Database(settings.database_url)
    try:
        with house.reading() as tx:
            if agency_by_key(tx, key) is None:
                raise NotFound(f"There is no agency {key} here.")
    finally:
        house.dispose()


def _tell(settings: Settings, name: str, digest: str, now: datetime) -> bool:
    """A full disk must not make a good backup look like a bad one."""
    house = Database(settings.database_url)
    try:
        with house.writing() as tx:
            tell_backup(tx, name=name, sha256=digest, now=now)
    except Exception:
        return False
    finally:
        house.dispose()
    return True


@contextmanager
def _unpacked(settings: Settings, file: Path) -> Iterator[tuple[Backup, Path]]:
    target = sqlite_file(settings.database_url) or settings.data_dir / "marchstone"
    target.parent.mkdir(parents=True, exist_ok=True)
    with beside(target) as data:
        backup = read_backup(file, data)
        schema, heads = check_copy(data)
        if (schema, heads) != (backup.schema, backup.heads):
            raise Refused.because("its data are not those it tells of", column="file")
        yield backup, data


def _proof(settings: Settings) -> LedgerProof:
    house = Database(settings.database_url)
    try:
        with house.reading() as tx:
            return prove_ledger(tx)
    finally:
        house.dispose()
