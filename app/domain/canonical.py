"""The one text of a document (RFC 8785), whose SHA-256 is its fingerprint."""

import json
import re
from collections.abc import Mapping
from typing import Any

import rfc8785

# Where the standard library may write otherwise: numbers such as 90.0, 1e-07 or beyond 2^53, and
# keys that UTF-16 sorts otherwise. The same marks inside a text only cost time.
_WHOLE = re.compile(rb"\.0(?!\d)")
_BEYOND_UTF_16 = b"\xff"  # stands in no UTF-8
_ALIKE = bytes.maketrans(
    b"123456789" + bytes(range(0xF0, 0xF5)), b"0" * 9 + _BEYOND_UTF_16 * 5
)  # one digit for all, one mark for every character beyond
_UNLIKE = (b"0e+0", b"0e-0", b"0" * 16, _BEYOND_UTF_16)


def canonical(document: Mapping[str, Any]) -> bytes:
    """As `rfc8785.dumps`, some ten times as fast for nearly every policy.

    Raises rfc8785.CanonicalizationError where a document has no such text.
    """
    try:
        text = json.dumps(
            document, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        ).encode()
        if not _may_differ(text):
            return text
    except (TypeError, ValueError):
        pass  # the slow way says what is wrong
    return rfc8785.dumps(document)


def _may_differ(text: bytes) -> bool:
    alike = text.translate(_ALIKE)
    return any(mark in alike for mark in _UNLIKE) or _WHOLE.search(text) is not None
