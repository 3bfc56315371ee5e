"""What people type into a line or a note, before it is kept."""

import unicodedata

from app.domain.errors import Refused

_LINE, _NOTE = 200, 4000
BREAKS = frozenset("\n\r\t")


def line(typed: str, *, column: str) -> str:
    """One line that must not be empty; stripped."""
    text = _checked(typed, column=column, longest=_LINE, allowed=frozenset())
    if not text:
        raise Refused.because("this must not be empty", column=column)
    return text


def free_line(typed: str, *, column: str) -> str:
    """One line that may be empty; stripped."""
    return line(typed, column=column) if typed.strip() else ""


def note(typed: str, *, column: str = "note", needed: bool = False) -> str:
    """Several lines, stripped; may be empty unless it is needed."""
    text = _checked(typed, column=column, longest=_NOTE, allowed=BREAKS)
    if needed and not text:
        raise Refused.because("this must not be empty", column=column)
    return text


def is_printable(text: str, allowed: frozenset[str] = frozenset()) -> bool:
    """Control characters and halves of characters break exports, and PostgreSQL refuses some."""
    if text.isprintable():  # stricter, and much quicker
        return True
    return not any(unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in text)


def _checked(typed: str, *, column: str, longest: int, allowed: frozenset[str]) -> str:
    text = typed.strip()
    if len(text) > longest:
        raise Refused.because(f"write at most {longest} characters", column=column)
    if not is_printable(text, allowed):
        raise Refused.because("remove the characters that cannot be printed", column=column)
    return text
