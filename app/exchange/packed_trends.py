"""A recording as it is kept: vital signs in whole steps, patients as numbers, packed.

Neighbouring samples differ little, so their differences pack well. The fingerprint is of the
content before packing: the same trends have the same one, whether they came as CSV or Parquet.
"""

import hashlib
import json
import struct
import zlib
from collections.abc import Iterator

import numpy as np

from app.domain.alarm_curve import MISSING, Steps, in_steps
from app.domain.trends import Trends, Whole
from app.domain.vital_signs import VITAL_SIGNS

_FORM = "marchstone-trends/1"
_HEAD = struct.Struct("<I")
_LEVEL = 6
_PIECE = 1 << 18


def packed(trends: Trends) -> tuple[bytes, str]:
    """(bytes, fingerprint)"""
    packing, fingerprint = zlib.compressobj(_LEVEL), hashlib.sha256()
    kept = []
    for part in _parts(trends):  # the whole is never in memory unpacked
        fingerprint.update(part)
        kept.append(packing.compress(part))
    kept.append(packing.flush())
    return b"".join(kept), fingerprint.hexdigest()


def _parts(trends: Trends) -> Iterator[bytes]:
    names = [name for name in VITAL_SIGNS if name in trends.values]
    head = {"form": _FORM, "rows": trends.rows, "step_s": trends.step_s, "vital_signs": names}
    told = json.dumps(head, separators=(",", ":")).encode()
    yield _HEAD.pack(len(told)) + told
    yield from _differences(trends.patient, "<i8")
    yield from _differences(trends.second, "<i8")
    for name in names:
        steps = in_steps(trends.values[name], float(VITAL_SIGNS[name].step))
        yield from _differences(steps, "<i2")


def unpacked(kept: bytes) -> Trends:
    content = memoryview(zlib.decompress(kept))
    (length,) = _HEAD.unpack(content[: _HEAD.size])
    head = json.loads(bytes(content[_HEAD.size : _HEAD.size + length]))
    if head["form"] != _FORM:
        raise ValueError("these trends were kept in another form")
    rows, at = head["rows"], _HEAD.size + length
    patient, second = (
        np.cumsum(np.frombuffer(content, "<i8", rows, at + place * 8 * rows)) for place in (0, 1)
    )
    at += 16 * rows
    values = {}
    for place, name in enumerate(head["vital_signs"]):
        steps = np.cumsum(
            np.frombuffer(content, "<i2", rows, at + 2 * place * rows), dtype=np.int16
        )
        # A division gives the nearest number to what was written; a product need not.
        per_unit = float(1 / VITAL_SIGNS[name].step)
        values[name] = np.where(steps == MISSING, np.nan, steps / per_unit)
    return Trends(patient, second, values, head["step_s"])


def _differences(numbers: Whole | Steps, form: str) -> Iterator[bytes]:
    """The first from nought."""
    for first in range(0, numbers.size, _PIECE):
        before = numbers[first - 1] if first else numbers.dtype.type(0)
        piece = np.diff(numbers[first : first + _PIECE], prepend=before)
        yield piece.astype(form).tobytes()
