"""Numbers written as text: plain decimals only, no NaN, no exponent, no thousands mark."""

import re
from decimal import Decimal

_PLAIN = re.compile(r"-?\d{1,9}(\.\d{1,6})?", re.ASCII)


def plain_number(text: str) -> Decimal | None:
    """None where the text is no plain decimal number."""
    text = text.strip()
    return Decimal(text) if _PLAIN.fullmatch(text) else None
