"""JSON text with places: every value's line and column, duplicate keys and bad numbers refused.

The standard parser says where a text stops being JSON, but not where a value stands that turns
out to be wrong later. People who are told "line 41, column 12" can mend a file.
"""

import json
import re
from dataclasses import dataclass, field
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import Any, NoReturn

from app.domain.errors import Fault, Refused

Path = tuple[str | int, ...]
MOST_BYTES = 8 * 1024 * 1024
_DEEPEST = 40
_SPACE = re.compile(r"[ \t\n\r]*")
_NUMBER = re.compile(r"-?(?:0|[1-9]\d*)(\.\d+)?([eE][-+]?\d+)?", re.ASCII)
_WORDS = {"true": True, "false": False, "null": None}


@dataclass
class PlacedDocument:
    """The parsed value and where each part of it starts in the text."""

    value: Any
    text: str
    places: dict[Path, int] = field(default_factory=dict)

    def fault(self, path: Path, reason: str, value: object = None) -> Fault:
        """A fault at the path, or at its nearest ancestor that stands in the text."""
        near = path
        while near and near not in self.places:
            near = near[:-1]
        line, column = _line_and_column(self.text, self.places.get(near, 0))
        return Fault(reason, line, column, value)


def _line_and_column(text: str, at: int) -> tuple[int, int]:
    return text.count("\n", 0, at) + 1, at - (text.rfind("\n", 0, at) + 1) + 1


def decode_text(raw: bytes, *, most: int = MOST_BYTES) -> str:
    if len(raw) > most:
        raise Refused.because(f"the file is larger than {most // 1024 // 1024} MiB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise Refused([Fault("this is not UTF-8 text", line, "file")]) from None


def parse(text: str) -> PlacedDocument:
    """Raises Refused with line and column."""
    return _Parser(text).run()


class _Parser:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[Path, int] = {}

    def run(self) -> PlacedDocument:
        value = self.value(())
        self.skip()
        if self.at != len(self.text):
            self.refuse("there is more text after the end of the document")
        return PlacedDocument(value, self.text, self.places)

    def refuse(self, reason: str, at: int | None = None, value: object = None) -> NoReturn:
        line, column = _line_and_column(self.text, self.at if at is None else at)
        raise Refused([Fault(reason, line, column, value)])

    def skip(self) -> str:
        """Past white space; the character there, or '' at the end."""
        found = _SPACE.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.text[self.at : self.at + 1]

    def expect(self, character: str) -> None:
        if self.skip() != character:
            self.refuse(f"expected {character!r}" + ("" if self.skip() else " before the end"))
        self.at += 1

    def value(self, path: Path) -> Any:
        if len(path) > _DEEPEST:
            self.refuse("nested too deeply")
        character = self.skip()
        self.places[path] = self.at
        if character == "{":
            return self.members(path)
        if character == "[":
            return self.items(path)
        return self.string() if character == '"' else self.plain()

    def members(self, path: Path) -> dict[str, Any]:
        found: dict[str, Any] = {}
        self.at += 1
        if self.skip() == "}":
            self.at += 1
            return found
        while True:
            if self.skip() != '"':
                self.refuse("expected a key in double quotes")
            key_at = self.at
            key = self.string()
            if key in found:
                self.refuse(f"the key {key!r} stands twice", key_at, key)
            self.expect(":")
            found[key] = self.value((*path, key))
            if self.skip() != ",":
                self.expect("}")
                return found
            self.at += 1

    def items(self, path: Path) -> list[Any]:
        found: list[Any] = []
        self.at += 1
        if self.skip() == "]":
            self.at += 1
            return found
        while True:
            found.append(self.value((*path, len(found))))
            if self.skip() != ",":
                self.expect("]")
                return found
            self.at += 1

    def string(self) -> str:
        try:
            text, self.at = scanstring(self.text, self.at + 1)
        except json.JSONDecodeError as error:
            reason = error.msg.removesuffix(" at").removesuffix(" starting")
            self.refuse(reason[:1].lower() + reason[1:], error.pos)
        if any("\ud800" <= character <= "\udfff" for character in text):
            self.refuse("half of a surrogate pair is no text")
        return str(text)

    def plain(self) -> Any:
        for word, value in _WORDS.items():
            if self.text.startswith(word, self.at):
                self.at += len(word)
                return value
        found = _NUMBER.match(self.text, self.at)
        if found is None:
            self.refuse("expected a value" if self.text[self.at : self.at + 1] else "it ends here")
        number = self.number(found)
        self.at = found.end()
        return number

    def number(self, found: "re.Match[str]") -> int | float:
        written = found[0]
        whole = found[1] is None and found[2] is None
        number = int(written) if whole and len(written) < 20 else float(written)
        if abs(number) > 2**53 - 1:  # beyond it two different texts would share one fingerprint
            self.refuse(f"{written} is too large a number", value=written)
        return number
