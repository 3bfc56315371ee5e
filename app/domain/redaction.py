"""What a log must never hold: passwords, tokens, cookies, addresses with a password in them."""

import re
from collections.abc import Mapping
from typing import Any

GONE = "[redacted]"
_SECRET_NAMES = re.compile(r"passw|token|secret|cookie|authoriz|session|setup_link", re.IGNORECASE)
_IN_ADDRESS = re.compile(r"(?<=://)[^/\s@]*:[^/\s@]*(?=@)")
_BEARER = re.compile(r"(?i)(?<=bearer )\S+")
_RANDOM = re.compile(r"(?<![A-Za-z0-9_-])(?=[A-Za-z0-9_-]*[A-Z])[A-Za-z0-9_-]{43}(?![A-Za-z0-9_-])")
"""Every token here is 32 random bytes in base64; a SHA-256 in hex has no capitals."""


def redacted(told: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: GONE if _SECRET_NAMES.search(name) else _without_secrets(value)
        for name, value in told.items()
    }


def _without_secrets(value: Any) -> Any:
    if isinstance(value, Mapping):
        return redacted(value)
    if isinstance(value, list | tuple):
        return [_without_secrets(one) for one in value]
    if not isinstance(value, str):
        return value
    for pattern in (_IN_ADDRESS, _BEARER, _RANDOM):
        value = pattern.sub(GONE, value)
    return value
