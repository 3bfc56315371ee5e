"""Text that a spreadsheet must not take for a formula (OWASP, CSV injection)."""

_BEGINNINGS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")


def safe_cell(text: str) -> str:
    """An apostrophe in front, which spreadsheets hide."""
    return f"'{text}" if text.startswith(_BEGINNINGS) else text
