"""The one text of a document (RFC 8785), whose SHA-256 is its fingerprint."""

import json
import re
from collections.abc import Mapping
from typing import Any

import rfc8785

# Where the standard library may write otherwise: numbers such as 90.0, 1e-07 or beyond 2^53, and
# keys that UTF-16 sorts otherwise. The same marks inside a text only cost time.
_UNLIKE = re.compile("\\.0(?!\\d)|\\d[eE][-+]?\\d|\\d{16}|[\U00010000-\U0010ffff]")


def canonical(document: Mapping[str, Any]) -> bytes:
    """As `rfc8785.dumps`, some ten times as fast for nearly every policy.

    Raises rfc8785.CanonicalizationError where a document has no such text.
    """
    try:
        text = json.dumps(
            document, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        )
        if _UNLIKE.search(text) is None:
            return text.encode()
    except (TypeError, ValueError):
        pass  # the slow way says what is wrong
    return rfc8785.dumps(document)
