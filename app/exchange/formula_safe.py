"""Text that a spreadsheet must not take for a formula (OWASP, CSV injection)."""

_BEGINNINGS = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe_cell(text: str) -> str:
    return f"'{text}" if text.startswith(_BEGINNINGS) else text
