"""Papers as PDF: a Typst template, data that it never takes for markup, fonts of our own.

Data and pictures reach a template as JSON, so that no name in them can do anything but be printed.
A character that cannot be seen on paper, or that the fonts cannot draw, is printed as its number,
`[U+202E]`: what a paper holds is all there, and nothing on it reads otherwise than it is stored.
"""

import json
import unicodedata
from collections.abc import Mapping
from datetime import datetime
from functools import cached_property
from pathlib import Path
from threading import Lock
from typing import Any

from app.exchange.font_coverage import covered

Data = Mapping[str, Any]
_UNSEEN = frozenset({"Cc", "Cf", "Co", "Cs", "Cn"})
_BREAK = "\n"
_STANDARDS = ("a-2a", "ua-1")
"""Readable for decades (ISO 19005-2), and by a screen reader (ISO 14289-1)."""


class PaperFailed(RuntimeError):
    """A template is at fault: it does not compile, or it names what the fonts do not hold."""


class Press:
    """Made at once, warmed by the first paper; one paper at a time, for the compiler is not shared.

    `templates` holds the `.typ` files, `fonts` the only fonts that are ever used.
    """

    def __init__(self, *, templates: Path, fonts: Path) -> None:
        self._templates, self._fonts = templates, fonts
        self._alone = Lock()

    def set_paper(
        self, template: str, data: Data, *, at: datetime, pictures: Mapping[str, str] | None = None
    ) -> bytes:
        """The PDF of `template`.typ; `pictures` are SVG texts, `at` the time it tells as its own.

        The same input gives the same bytes.
        """
        shown = {"data": self.seen(data), "pictures": self.seen(pictures or {})}
        inputs = {name: json.dumps(value, ensure_ascii=False) for name, value in shown.items()}
        with self._alone:
            return self._compiled(self._templates / f"{template}.typ", inputs, at)

    def seen(self, value: Any) -> Any:
        """The same, with every text in it made visible."""
        if isinstance(value, str):
            return "".join(map(self._seen_character, value))
        if isinstance(value, Mapping):
            return {key: self.seen(one) for key, one in value.items()}
        if isinstance(value, list | tuple):
            return [self.seen(one) for one in value]
        return value

    def _seen_character(self, character: str) -> str:
        if character.isascii() and character.isprintable():
            return character
        if character in "\r\n\t":
            return _BREAK if character == _BREAK else " "
        drawn = ord(character) in self._covered
        if drawn and unicodedata.category(character) not in _UNSEEN:
            return character
        return f"[U+{ord(character):04X}]"

    @cached_property
    def _covered(self) -> frozenset[int]:
        """By every face: a heading must not lose what the text under it shows."""
        faces = [covered(file.read_bytes()) for file in sorted(self._fonts.glob("*.ttf"))]
        return frozenset.intersection(*faces)

    @cached_property
    def _compiler(self) -> Any:
        import typst  # slow to load, and most processes never print

        for file in sorted(self._templates.glob("*.typ")):
            self._check_template(file)
        fonts = typst.Fonts(
            include_system_fonts=False, include_embedded_fonts=False, font_paths=[self._fonts]
        )
        return typst.Compiler(root=self._templates, font_paths=fonts, ignore_system_fonts=True)

    def _check_template(self, file: Path) -> None:
        text = file.read_text(encoding="utf-8")
        lacking = sorted({one for one in text if one not in _BREAK and self.seen(one) != one})
        if lacking:
            raise PaperFailed(f"{file.name}: the fonts cannot draw {self.seen(''.join(lacking))}")

    def _compiled(self, file: Path, inputs: dict[str, str], at: datetime) -> bytes:
        import typst

        try:
            pdf, warnings = self._compiler.compile_with_warnings(
                input=file,
                format="pdf",
                sys_inputs=inputs,
                timestamp=int(at.timestamp()),
                pdf_standards=list(_STANDARDS),
            )
        except typst.TypstError as error:
            raise PaperFailed(f"{file.name}: {error.message}") from error
        if warnings:
            raise PaperFailed(f"{file.name}: {warnings[0].message}")
        return bytes(pdf)
