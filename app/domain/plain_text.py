"""What people type into a line or a note, before it is kept."""

import unicodedata

from app.domain.errors import Refused

_LINE, _NOTE = 200, 4000
BREAKS = frozenset("\n\r\t")
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})
_BLANK = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0")  # drawn as nothing
_REORDERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They make a line read otherwise than it is stored (Unicode UAX 9)."""


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


def unseen_in_name(text: str) -> str | None:
    """The first character of a name that nobody sees: two names that look alike must be one."""
    if text.isprintable() and not any(blank in text for blank in _BLANK):
        return None
    return next(
        (one for one in text if one in _BLANK or unicodedata.category(one) in _UNSEEN), None
    )


def misleading_in_words(text: str) -> str | None:
    """The first character of a free text that no printer knows, or that turns its order round."""
    if text.isprintable():
        return None
    return next((one for one in text if one in _REORDERING or not is_printable(one, BREAKS)), None)
