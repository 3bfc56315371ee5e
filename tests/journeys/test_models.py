"""Anna gives a model its presets and its grid, and writes outer bounds row by row."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.demo.profile import document
from tests.builders import a_document, a_draft, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

SCREENS = pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (360, False, "day")],
)


def look_at(page: Page, *, javascript: bool) -> None:
    if javascript:
        assert axe(page) == []
        assert not overflows(page)


def a_demo_draft(tx: Session) -> None:
    a_draft(tx, document=document(3))


def a_policy_in_force(tx: Session) -> None:
    a_signed_revision(tx, document=a_document({"heart-rate-high": 175}))


@SCREENS
def test_a_model_gets_presets_and_a_grid_and_every_step_is_proven(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(a_demo_draft)
    anna = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "anna")
    anna.goto(f"{address}/skerry/policy/1/models")
    look_at(anna, javascript=javascript)

    # A model of her own, of which one preset is forgotten at first.
    anna.get_by_label("Model", exact=False).last.fill("plover")
    anna.get_by_role("button", name="Add", exact=True).click()
    expect(anna.get_by_role("heading", level=1)).to_have_text("plover")
    add_preset(anna, "LITTLE", "Infant", ["Neonate", "Infant", "Young child", "Child"])
    expect(anna.locator(".proof")).to_contain_text("on a plover has no preset (Adult")
    look_at(anna, javascript=javascript)
    anna.get_by_text("Add a preset", exact=True).click()
    add_preset(anna, "GROWN", "Adult", ["Adult"])
    expect(anna.locator(".proof")).to_contain_text("Every category reaches exactly one preset.")

    # A slip in the grid is told in its cell; nothing typed is lost.
    cells = {"from": "60", "to": "120", "step": "7"}
    for part, value in cells.items():
        anna.get_by_label(f"Heart rate high, {part}, /min").fill(value)
    anna.get_by_label("Heart rate high, step, /min").press("Enter")
    expect(anna.get_by_text("no whole number of steps from 60")).to_be_visible()
    expect(anna.get_by_label("Heart rate high, from, /min")).to_have_value("60")
    look_at(anna, javascript=javascript)
    anna.get_by_label("Heart rate high, step, /min").fill("5")
    anna.get_by_label("Heart rate high, step, /min").press("Enter")

    # What the model cannot hold is told plainly.
    expect(anna.locator("#rendered").locator("..")).to_contain_text(
        "cannot be set: nearest is 120 /min, which alarms earlier"
    )
    look_at(anna, javascript=javascript)

    # The grid of another model is seen before it is taken.
    anna.get_by_role("link", name="Copy from another model or revision").click()
    anna.get_by_label("Its model").select_option("petrel")
    anna.get_by_role("button", name="Show what it would do").click()
    expect(anna.get_by_role("button", name="Copy into plover")).to_be_visible()
    look_at(anna, javascript=javascript)
    anna.get_by_role("button", name="Copy into plover").click()
    expect(anna.get_by_label("Heart rate high, to, /min")).to_have_value("240")


def add_preset(page: Page, name: str, carries: str, serves: list[str]) -> None:
    form = page.locator("details", has_text="Add a preset").last
    form.get_by_label("Name on the device").fill(name)
    form.get_by_label("Carries the values of").select_option(label=carries)
    for label in serves:
        form.locator("label", has_text=label).filter(
            has=page.locator(f'input[value="{label.lower().replace(" ", "-")}"]')
        ).click()
    form.get_by_role("button", name="Add the preset").click()


@SCREENS
def test_outer_bounds_are_written_row_by_row_and_their_consequence_is_seen_first(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(a_policy_in_force)
    anna = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "anna")
    anna.goto(f"{address}/skerry/bounds")
    look_at(anna, javascript=javascript)
    anna.get_by_role("button", name="Start a draft").click()
    expect(anna.locator("main")).to_contain_text("Every bound is the same.")
    look_at(anna, javascript=javascript)

    # One bound made stricter: first what it would do, then saved.
    anna.get_by_role(
        "link", name=re.compile("Heart rate above 180 .min.*1 y to 5 y, danger")
    ).click()
    expect(anna.get_by_label("Bound")).to_be_visible()
    look_at(anna, javascript=javascript)
    anna.get_by_label("Bound").fill("fast")
    anna.get_by_role("button", name="Show what it would do").click()
    expect(anna.get_by_text("must be a number, or base")).to_be_visible()
    look_at(anna, javascript=javascript)
    anna.get_by_label("Bound").fill("170")
    anna.get_by_role("button", name="Show what it would do").click()
    expect(anna.locator("aside")).to_contain_text("Heart rate can rise to 175 /min unannounced")
    look_at(anna, javascript=javascript)
    anna.get_by_role("button", name="Save in the draft").click()
    expect(anna.locator("main")).to_contain_text("1 tighter.")

    # Another one removed.
    anna.get_by_role("link", name=re.compile("SpO₂ below 90 %.*28 d and over, caution")).click()
    anna.get_by_role("button", name="Remove this bound from the draft").click()
    expect(anna.locator("main")).to_contain_text("No longer there")
    expect(anna.locator("main")).to_contain_text("1 looser, 1 tighter.")
    look_at(anna, javascript=javascript)
