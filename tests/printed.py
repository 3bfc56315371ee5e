"""A paper read back by programs that are not ours: its text, and the code a phone would see."""

from functools import cache
from io import BytesIO
from typing import Any

import pypdf
import pypdfium2  # type: ignore[import-untyped]
import zxingcpp

from app.exchange.typst_papers import Press
from app.places import folder


@cache
def press() -> Press:
    return Press(templates=folder("templates") / "papers", fonts=folder("static") / "fonts")


def pages(pdf: bytes) -> list[str]:
    """The text of each page, every gap one space: where a line breaks says nothing."""
    reader = pypdf.PdfReader(BytesIO(pdf))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def text(pdf: bytes) -> str:
    return " ".join(pages(pdf))


def properties(pdf: bytes) -> dict[str, Any]:
    return dict(pypdf.PdfReader(BytesIO(pdf)).metadata or {})


def qr_codes(pdf: bytes) -> list[str]:
    """What the codes on the first page say, drawn as an office printer would."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0]
    drawn = page.render(scale=2)  # 144 dots an inch
    found = [code.text for code in zxingcpp.read_barcodes(drawn.to_numpy())]
    for one in (drawn, page, document):
        one.close()
    return found


def widest(pdf: bytes) -> float:
    """How far to the right anything is printed on any page, in mm."""
    document = pypdfium2.PdfDocument(pdf)
    farthest = 0.0
    for page in document:
        drawn = page.render(scale=1)
        inked = (drawn.to_numpy() < 200).any(axis=(0, 2)).nonzero()[0]
        farthest = max(farthest, *inked[-1:].tolist(), 0)
        drawn.close()
        page.close()
    document.close()
    return farthest * 25.4 / 72
