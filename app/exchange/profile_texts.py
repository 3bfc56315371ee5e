"""Texts of a profile that would not be read as they are stored.

Asked when a policy is written, never when one is read that is stored: what was signed stays.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from app.domain.plain_text import misleading_in_words, unseen_in_name
from app.exchange.json_text import Path

Complaint = tuple[Path, str, object]
_WORDS = frozenset({"reason", "source", "value", "agency"})


def text_complaints(document: Mapping[str, Any]) -> Iterator[Complaint]:
    """Of a document that is a profile otherwise."""
    yield from _inside((), document)


def is_plainly_readable(text: str) -> bool:
    """Whether the JSON of a document escapes nothing and hides nothing, so none need be asked."""
    return "\\" not in text and text.isprintable() and unseen_in_name(text) is None


def _inside(path: Path, value: object) -> Iterator[Complaint]:
    if isinstance(value, str):
        yield from _of_text(path, value, words=bool(path) and path[-1] in _WORDS)
    elif isinstance(value, Mapping):
        for key, held in value.items():
            yield from _of_text((*path, key), key, words=False)
            yield from _inside((*path, key), held)
    elif isinstance(value, list):
        for at, held in enumerate(value):
            yield from _inside((*path, at), held)


def _of_text(path: Path, text: str, *, words: bool) -> Iterator[Complaint]:
    found = misleading_in_words(text) if words else unseen_in_name(text)
    if found is not None:
        place = text.index(found) + 1
        yield path, f"holds a character that cannot be seen, U+{ord(found):04X} at {place}", text
    elif not words and not text.strip():
        yield path, "holds nothing but spaces", text
