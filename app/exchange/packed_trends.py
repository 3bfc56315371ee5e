"""A recording as it is kept: vital signs in whole steps, patients as numbers, packed.

Neighbouring samples differ little, so their differences pack well. The fingerprint is of the
content before packing: the same trends have the same one, whether they came as CSV or Parquet.
"""

import hashlib
import json
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_curve import MISSING, in_steps
from app.domain.trends import Trends
from app.domain.vital_signs import VITAL_SIGNS

_FORM = "marchstone-trends/1"
_HEAD = struct.Struct("<I")
_LEVEL = 6


def packed(trends: Trends) -> tuple[bytes, str]:
    """(bytes, fingerprint)"""
    names = [name for name in VITAL_SIGNS if name in trends.values]
    head = {"form": _FORM, "rows": trends.rows, "step_s": trends.step_s, "vital_signs": names}
    told = json.dumps(head, separators=(",", ":")).encode()
    parts = [_HEAD.pack(len(told)), told, _differences(trends.patient), _differences(trends.second)]
    for name in names:
        steps = in_steps(trends.values[name], float(VITAL_SIGNS[name].step))
        parts.append(np.diff(steps, prepend=np.int16(0)).astype("<i2").tobytes())
    content = b"".join(parts)
    return zlib.compress(content, _LEVEL), hashlib.sha256(content).hexdigest()


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


def _differences(numbers: NDArray[np.int64]) -> bytes:
    return np.diff(numbers, prepend=np.int64(0)).astype("<i8").tobytes()
