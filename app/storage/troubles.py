"""What a database cannot help, in words: it is full, busy or out of reach. Nothing was stored,
unless it went away in the midst of a commit."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DataError, OperationalError

from app.domain.errors import MarchstoneError, NotFound

_SQLITE_BUSY = frozenset({sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED})
_SQLITE_UNREACHABLE = frozenset(
    {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY}
)
_POSTGRESQL_TOO_LARGE = "22003"  # numeric_value_out_of_range
_POSTGRESQL_FULL = "53100"  # disk_full; the classes are in the appendix of its manual
_POSTGRESQL_BUSY = frozenset({"40001", "40P01", "55P03"})
_POSTGRESQL_UNREACHABLE = ("08", "53", "57P")


class StorageFull(MarchstoneError):
    status = 507
    title = "No room is left"


class StorageBusy(MarchstoneError):
    status = 503
    title = "The data are busy"


class StorageUnreachable(MarchstoneError):
    status = 503
    title = "The data cannot be reached"


@contextmanager
def told_plainly() -> Iterator[None]:
    try:
        yield
    except OperationalError as error:
        told = _trouble(error.orig)
        if told is None:
            raise
        raise told from error
    except (DataError, OverflowError) as error:
        if not _is_too_large(error):
            raise
        raise NotFound("There is nothing with so large a number.") from error


@contextmanager
def commit_told_plainly() -> Iterator[None]:
    """Whoever loses the connection while PostgreSQL commits does not learn whether it did."""
    try:
        yield
    except OperationalError as error:
        if isinstance(error.orig, sqlite3.Error) or not isinstance(
            _trouble(error.orig), StorageUnreachable
        ):
            raise
        raise StorageUnreachable(
            "The database went away just when this was being stored. Look whether it is there "
            "before you do it again."
        ) from error


def _is_too_large(error: Exception) -> bool:
    """A number from an address, larger than any row's."""
    if isinstance(error, DataError):
        return getattr(error.orig, "sqlstate", None) == _POSTGRESQL_TOO_LARGE
    return "SQLite INTEGER" in str(error)


def _trouble(error: BaseException | None) -> MarchstoneError | None:
    if isinstance(error, sqlite3.OperationalError):
        return _of_sqlite(error.sqlite_errorcode & 0xFF)
    # A connection that is gone has no state; the class "08" is that of lost ones.
    return _of_postgresql(getattr(error, "sqlstate", None) or "08")


def _of_sqlite(code: int) -> MarchstoneError | None:
    if code == sqlite3.SQLITE_FULL:
        return _full()
    if code in _SQLITE_BUSY:
        return _busy()
    return _unreachable() if code in _SQLITE_UNREACHABLE else None


def _of_postgresql(state: str) -> MarchstoneError | None:
    if state == _POSTGRESQL_FULL:
        return _full()
    if state in _POSTGRESQL_BUSY:
        return _busy()
    return _unreachable() if state.startswith(_POSTGRESQL_UNREACHABLE) else None


def _full() -> MarchstoneError:
    return StorageFull("The disk is full, so nothing was stored. What was there is safe.")


def _busy() -> MarchstoneError:
    return StorageBusy("Somebody else is writing a lot just now. Nothing was stored; try again.")


def _unreachable() -> MarchstoneError:
    return StorageUnreachable("The database cannot be reached just now. Nothing was stored.")
