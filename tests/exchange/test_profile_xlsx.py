"""A profile → workbook → profile: the same fingerprint, and no cell that a program would run."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from app.demo.profile import document as demo_document
from app.domain.profiles import fingerprint
from app.exchange.profile_json import profile_from_document
from app.exchange.profile_xlsx import write_workbook
from app.exchange.profile_xlsx_columns import ABOUT, SETTINGS, SHEETS
from app.exchange.profile_xlsx_read import read_workbook
from tests.builders import a_document
from tests.exchange.profile_documents import documents
from tests.workbooks import opened
from tests.worked_profiles import five_categories, on, one_wide_band

EXAMPLE = Path(__file__).parents[1] / "examples" / "ground-and-air.json"
HOSTILE = (
    "=cmd|' /C calc'!A0",
    "+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "http://example.org/",
    "_x0041_",
    "(none)",
    '"quoted"',
    "'1",
    "żółw 🐢",
    " both ",
    "two\nlines",
    "\ufffe",
    "\ufeff=1",
    "x" * 4000,
)


def there_and_back(document: dict[str, Any]) -> dict[str, Any]:
    return dict(read_workbook(write_workbook(document)).profile.document)


@pytest.mark.parametrize(
    "document",
    [
        five_categories(),
        one_wide_band(),
        demo_document(3),
        a_document() | {"agency": "Skerry"},
        json.loads(EXAMPLE.read_text()),
    ],
    ids=["five categories", "one wide band", "the demo's", "the builders'", "the example"],
)
def test_a_worked_profile_comes_back_with_its_fingerprint(document: dict[str, Any]) -> None:
    assert fingerprint(there_and_back(document)) == fingerprint(document)


@given(documents())
@settings(deadline=None, max_examples=60)
def test_any_profile_comes_back_with_its_fingerprint(document: dict[str, Any]) -> None:
    profile_from_document(document)

    assert fingerprint(there_and_back(document)) == fingerprint(document)


@pytest.mark.parametrize("limit", [37.5, 0.1 + 0.2, 90, 1e-7, -0.5, 123456.789012345])
def test_a_limit_comes_back_to_the_last_digit(limit: float) -> None:
    document = one_wide_band()
    document["settings"]["child"]["heart-rate-low"] = on(limit)

    assert there_and_back(document)["settings"]["child"]["heart-rate-low"]["limit"] == limit


def hostile_document() -> dict[str, Any]:
    document = one_wide_band() | {"profile": "=1+1"}
    alarms = list(document["settings"]["child"])
    document["options"] = {f"own-{at}": {"value": text} for at, text in enumerate(HOSTILE)}
    document["settings"]["child"][alarms[0]] |= {"reason": HOSTILE[0], "source": HOSTILE[3]}
    document["models"] = {"dunlin": {"presets": {"=A1": {"carries": "child"}}}}
    document["categories"][0]["label"] = "=1+1"
    return document


def test_hostile_text_comes_back_as_it_was() -> None:
    document = hostile_document()

    assert there_and_back(document) == document


def test_an_outside_reader_finds_no_formula_and_no_link() -> None:
    book = opened(write_workbook(hostile_document()))

    cells = [cell for page in book for row in page for cell in row]
    kinds = {cell.data_type for cell in cells if cell.value is not None}
    assert kinds <= {"s", "n", "b"}
    assert not any(cell.hyperlink for cell in cells)
    assert "=cmd|' /C calc'!A0" in {cell.value for cell in cells}


def test_the_workbook_is_made_to_be_filled_in() -> None:
    book = opened(write_workbook(one_wide_band(), edit_version=7))

    assert book.sheetnames == [ABOUT, *(sheet.name for sheet in SHEETS)]
    assert "no advice for a patient" in str(book[ABOUT]["A2"].value)
    assert ["edit version", 7] in [[row[0].value, row[1].value] for row in book[ABOUT]]
    page = book[SETTINGS.name]
    assert page.freeze_panes == "C2"
    offered = {rule.formula1 for rule in page.data_validations.dataValidation}
    assert '"on,off,not-fitted,no-policy"' in offered
    assert '"high,medium,low"' in offered


def test_every_blank_has_its_row_and_is_marked() -> None:
    page = opened(write_workbook(one_wide_band()))[SETTINGS.name]

    states = {row[1].value: row[2].value for row in page.iter_rows(min_row=2)}
    assert states["heart-rate-low"] == "on"
    assert states["asystole"] is None
    (marked,) = page.conditional_formatting
    assert str(marked.sqref) == f"C2:C{len(states) + 1}"


def test_the_edit_version_is_read_back() -> None:
    assert read_workbook(write_workbook(one_wide_band(), edit_version=7)).edit_version == 7
    assert read_workbook(write_workbook(one_wide_band())).edit_version is None
