"""A file as a column holds it: packed, and read again piece by piece."""

import io
import zlib
from collections.abc import Iterator
from typing import BinaryIO, cast

_PIECE = 2**20


def packed(content: BinaryIO) -> bytes:
    """Piece by piece: the whole of a large file is never in memory."""
    return b"".join(_pieces(content))


def unpacked(content: bytes) -> BinaryIO:
    return cast("BinaryIO", io.BufferedReader(_Unpacked(content), _PIECE))


def _pieces(content: BinaryIO) -> Iterator[bytes]:
    packer = zlib.compressobj(1)
    content.seek(0)
    while piece := content.read(_PIECE):
        yield packer.compress(piece)
    yield packer.flush()


class _Unpacked(io.RawIOBase):
    """Unpacks while it is read; from the beginning again as often as wanted."""

    def __init__(self, content: bytes) -> None:
        self._packed = content
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
