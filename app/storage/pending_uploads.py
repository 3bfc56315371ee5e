"""A file that somebody looked at and has not decided on: one a person, for a short time.

It stays here so that what is taken is what was shown, whatever the browser sends back.
"""

import io
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO, cast

from sqlalchemy import CheckConstraint, delete, or_
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.storage.base import NumberedRow, sha256_hex

_PIECE = 2**20


class PendingUploadRow(NumberedRow, table=True):
    __tablename__ = "pending_upload"
    __table_args__ = (
        sha256_hex("fingerprint"),
        CheckConstraint("length(content) > 0", name="content_filled"),
    )

    person_id: int = Field(foreign_key="person.id", unique=True)
    name: str
    fingerprint: str
    content: bytes
    expires_at: datetime


@dataclass(frozen=True)
class PendingUpload:
    name: str
    fingerprint: str
    content: BinaryIO


def hold_upload(
    tx: Session, upload: PendingUpload, *, of: Person, now: datetime, expires_at: datetime
) -> None:
    """In the place of an earlier one of this person; whatever is too old goes with it."""
    outdated = or_(
        col(PendingUploadRow.person_id) == of.id, col(PendingUploadRow.expires_at) <= now
    )
    tx.exec(delete(PendingUploadRow).where(outdated))
    tx.add(
        PendingUploadRow(
            person_id=of.id,
            name=upload.name,
            fingerprint=upload.fingerprint,
            content=b"".join(_packed(upload.content)),
            expires_at=expires_at,
        )
    )
    tx.flush()


def find_upload(tx: Session, *, of: Person, now: datetime) -> PendingUpload | None:
    wanted = select(PendingUploadRow).where(
        PendingUploadRow.person_id == of.id, PendingUploadRow.expires_at > now
    )
    row = tx.exec(wanted).one_or_none()
    if row is None:
        return None
    return PendingUpload(row.name, row.fingerprint, _unpacked(row.content))


def _packed(content: BinaryIO) -> Iterator[bytes]:
    """Piece by piece: the whole of a large file is never in memory."""
    packer = zlib.compressobj(1)
    content.seek(0)
    while piece := content.read(_PIECE):
        yield packer.compress(piece)
    yield packer.flush()


class _Unpacked(io.RawIOBase):
    """Unpacks while it is read; from the beginning again as often as wanted."""

    def __init__(self, packed: bytes) -> None:
        self._packed = packed
        self.seek(0)

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        if offset or whence != io.SEEK_SET:
            raise io.UnsupportedOperation("only back to the beginning")
        self._unpacker, self._rest = zlib.decompressobj(), self._packed
        return 0

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        piece = self._unpacker.decompress(self._rest, len(buffer))
        self._rest = self._unpacker.unconsumed_tail
        buffer[: len(piece)] = piece
        return len(piece)


def _unpacked(packed: bytes) -> BinaryIO:
    return cast("BinaryIO", io.BufferedReader(_Unpacked(packed), _PIECE))


def drop_upload(tx: Session, *, of: Person) -> None:
    tx.exec(delete(PendingUploadRow).where(col(PendingUploadRow.person_id) == of.id))
