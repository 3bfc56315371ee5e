"""A policy on paper, against as many empty pages from a press like it."""

from io import BytesIO
from itertools import count
from pathlib import Path

import pypdf

from app.exchange.paper_policy import policy_pdf
from app.exchange.typst_papers import Press
from app.places import folder
from tests.bench.contests import Contest, Rival
from tests.builders import NOW
from tests.policy_papers import BASE, signed_paper
from tests.printed import press

_EMPTY = Path(__file__).parent / "papers"


def contest() -> Contest:
    """Every turn prints another revision with the same settings: as in any batch, what is alike
    is laid out once."""
    numbers = count(1)
    pages = _count(policy_pdf(press(), signed_paper(), base=BASE))
    empty = Press(templates=_EMPTY, fonts=folder("static") / "fonts")

    def policy() -> bytes:
        return policy_pdf(press(), signed_paper(number=next(numbers)), base=BASE)

    def nothing() -> bytes:
        return empty.set_paper("empty", {"pages": pages, "number": str(next(numbers))}, at=NOW)

    return Contest(
        name="paper, pages in a batch",
        size=f"{pages} pages, tagged",
        ours=Rival("policy", policy),
        others=(Rival("as many empty pages", nothing, answers=False),),
        target=f"at most {6 * pages} ms, 6 a page",
    )


def _count(pdf: bytes) -> int:
    return len(pypdf.PdfReader(BytesIO(pdf)).pages)
