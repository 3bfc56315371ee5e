"""Dana prints what she signed; whoever holds the paper asks whether it still holds."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import DAY, NOW, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.printed import pages, qr_codes


def seed(tx: Session) -> None:
    a_signed_revision(tx)
    a_signed_revision(tx, now=NOW + DAY)
    a_person(tx, Role.MEDICAL_DIRECTOR)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (320, True, "night"), (320, False, "day")],
)
def test_a_paper_is_printed_and_a_stranger_confirms_it(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    tmp_path: Path,
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)

    def look_at(page: Page) -> None:
        if javascript:
            assert axe(page) == []
            assert not overflows(page)

    dana = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")
    printed = []
    for number in (1, 2):
        dana.goto(f"{address}/skerry/policy/{number}")
        with dana.expect_download() as told:
            dana.get_by_role("link", name="Paper (PDF)").click()
        told.value.save_as(tmp_path / "paper.pdf")
        printed.append((tmp_path / "paper.pdf").read_bytes())
    assert "SUPERSEDED" in pages(printed[0])[0]
    assert "IN FORCE when printed" in pages(printed[1])[0]

    # A stranger scans both: no sign-in, the status first.
    stranger = open_page(width=width, javascript=javascript, theme=theme)
    for paper, heading, advice in [
        (printed[0], "Revision 1: no longer in force", "Do not use this paper."),
        (printed[1], "Revision 2: in force", "in force now."),
    ]:
        (code,) = qr_codes(paper)
        stranger.goto(code)
        expect(stranger.get_by_role("heading", level=1)).to_have_text(heading)
        expect(stranger.locator("main")).to_contain_text(advice)
        expect(stranger.locator("main")).to_contain_text("Dana, medical director")
        expect(stranger.locator("main")).to_contain_text("Known: it is entry")
        expect(stranger.get_by_role("navigation")).to_have_count(0)
        look_at(stranger)

    # One digit wrong, and nobody should rely on it.
    stranger.goto(f"{address}/skerry/confirm/{'0' * 64}")
    expect(stranger.get_by_role("heading", level=1)).to_have_text("Not known here")
    expect(stranger.get_by_role("alert")).to_contain_text("Do not rely on this paper.")
    look_at(stranger)
