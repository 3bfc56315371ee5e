"""A backup as one ZIP: the data as an SQLite file, and a page about them that can be checked."""

import hashlib
import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from app.domain.backups import FORMAT, Backup
from app.domain.errors import Refused

_DATA, _ABOUT = "marchstone.sqlite3", "backup.json"
_LONGEST_ABOUT = 2**20
_DAMAGED = (zipfile.BadZipFile, zlib.error, KeyError, ValueError, TypeError, RuntimeError)


def write_backup(target: IO[bytes], data: Path, backup: Backup) -> str:
    """The SHA-256 of the data."""
    digest = _digest_of(data)
    about = {
        "format": FORMAT,
        "taken_at": backup.taken_at.isoformat(),
        "program": backup.program,
        "schema": backup.schema,
        "agency": backup.agency,
        "bytes": data.stat().st_size,
        "sha256": digest,
        "heads": {key: list(head) for key, head in sorted(backup.heads.items())},
    }
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        packed.writestr(_ABOUT, json.dumps(about, indent=1))
        packed.write(data, _DATA)
    return digest


def read_backup(source: Path, target: Path) -> Backup:
    """Its data come to lie in `target`. Refused if it is no backup, or not the one it was."""
    try:
        with zipfile.ZipFile(source) as packed:
            about = _about(packed)
            backup = _backup(about)
            _unpack(packed, target, about)
    except OSError as error:
        raise _no_backup(source, error.strerror or str(error)) from error
    except _DAMAGED as error:
        raise _no_backup(source, "it is none, or was damaged") from error
    return backup


def _no_backup(source: Path, why: str) -> Refused:
    return Refused.because(f"{source} cannot be used as a backup: {why}", column="file")


def _about(packed: zipfile.ZipFile) -> Mapping[str, Any]:
    if packed.getinfo(_ABOUT).file_size > _LONGEST_ABOUT:
        raise ValueError("too long")
    found = json.loads(packed.read(_ABOUT))
    if not isinstance(found, dict) or found["format"] != FORMAT:
        raise ValueError("another format")
    return found


def _backup(about: Mapping[str, Any]) -> Backup:
    heads = {str(key): (int(seq), str(head)) for key, (seq, head) in about["heads"].items()}
    return Backup(
        datetime.fromisoformat(about["taken_at"]),
        str(about["program"]),
        str(about["schema"]),
        heads,
        None if about["agency"] is None else str(about["agency"]),
    )


def _unpack(packed: zipfile.ZipFile, target: Path, about: Mapping[str, Any]) -> None:
    if packed.getinfo(_DATA).file_size != int(about["bytes"]):
        raise ValueError("not as long as it was")
    with packed.open(_DATA) as data, target.open("xb") as file:
        shutil.copyfileobj(data, file, 2**20)
        file.flush()
        os.fsync(file.fileno())
    if _digest_of(target) != about["sha256"]:
        raise ValueError("not the bytes that were kept")


def _digest_of(data: Path) -> str:
    with data.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
