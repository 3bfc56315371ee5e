"""Outer bounds are downloaded, made stricter, drafted, signed; a policy becomes unsafe by them."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.adopted_bounds import STRICTER
from tests.builders import PASSWORD, a_document, a_draft, a_person
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

SILENT = "Preschool: Heart rate can rise to 175 /min unannounced"


def seed(tx: Session) -> None:
    a_draft(tx, document=a_document({"heart-rate-high": 175}))
    a_person(tx, Role.MEDICAL_DIRECTOR)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (320, True, "night"), (320, False, "day")],
)
def test_stricter_bounds_are_adopted_and_a_note_becomes_unsafe(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)

    def look_at(page: Page) -> None:
        if javascript:
            assert axe(page) == []
            assert not overflows(page)

    # Anna finds the bounds from the policy, and is told what is wrong with her rows.
    anna = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "anna")
    anna.goto(f"{address}/skerry/policy/1")
    expect(anna.locator("#findings")).to_contain_text("default, not adopted")
    expect(anna.locator("#findings li.unsafe", has_text=SILENT)).to_have_count(0)
    anna.locator("#findings").get_by_role("link", name="outer bounds").click()
    expect(anna.get_by_role("heading", level=1)).to_have_text("Outer bounds")
    look_at(anna)
    rows = anna.get_by_label("Or write the rows here")
    rows.fill(STRICTER.replace(",170,danger", ",170,red"))
    anna.get_by_role("button", name="Draft a version").click()
    expect(anna.get_by_text("line 6, grade: must be danger or caution")).to_be_visible()
    look_at(anna)

    # A file goes the same way.
    anna.get_by_label("Outer bounds (CSV)").set_input_files(
        {"name": "ours.csv", "mimeType": "text/csv", "buffer": STRICTER.encode()}
    )
    anna.get_by_role("button", name="Draft a version").click()
    expect(anna.get_by_role("heading", level=1)).to_contain_text("version 1")
    expect(anna.locator("main")).to_contain_text("1 tighter.")
    look_at(anna)

    # Dana, who did not draft it, adopts it.
    dana = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")
    dana.get_by_role("navigation").get_by_role("link", name="Bounds").click()
    dana.get_by_role("link", name="Version 1").click()
    dana.get_by_role("link", name="Sign version 1").click()
    expect(dana.get_by_role("heading", level=1)).to_contain_text("Sign version 1")
    look_at(dana)
    dana.get_by_label("Meaning of your signature").fill("Adopted as our outer bounds")
    dana.get_by_label("Your password, once more").fill(PASSWORD)
    dana.get_by_role("button", name="Sign version 1").click()
    expect(dana.locator("main")).to_contain_text("in force")
    look_at(dana)
    dana.goto(f"{address}/skerry/policy/1")
    expect(dana.locator("#findings li.unsafe", has_text=SILENT)).to_have_count(1)
    expect(dana.locator("#findings")).to_contain_text("version 1, signed by Dana")
