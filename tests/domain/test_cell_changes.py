from copy import deepcopy
from typing import Any

import pytest

from app.domain.cell_changes import cells_before, with_cells
from app.domain.errors import NotFound
from tests.builders import a_document

CHANGES: dict[str, dict[str, dict[str, Any] | None]] = {
    "infant": {"spo2-low": {"state": "off"}, "asystole": None},
    "adult": {"apnoea": {"state": "not-fitted"}},
}


def test_several_cells_change_at_once_and_all_else_stays() -> None:
    document = a_document()
    before = deepcopy(document)

    changed = with_cells(document, CHANGES)

    assert changed["settings"]["infant"]["spo2-low"] == {"state": "off"}
    assert "asystole" not in changed["settings"]["infant"]
    assert changed["settings"]["adult"]["apnoea"] == {"state": "not-fitted"}
    assert changed["settings"]["neonate"] == document["settings"]["neonate"]
    assert document == before


def test_what_the_cells_were_takes_the_changes_back() -> None:
    document = a_document()
    del document["settings"]["adult"]["apnoea"]

    changed = with_cells(document, CHANGES)

    assert with_cells(changed, cells_before(document, CHANGES)) == document


def test_a_category_that_says_nothing_yet_can_be_filled() -> None:
    document = a_document()
    del document["settings"]["adult"]

    changed = with_cells(document, {"adult": {"apnoea": {"state": "off"}}})

    assert changed["settings"]["adult"] == {"apnoea": {"state": "off"}}


@pytest.mark.parametrize("changes", [{"giant": {"apnoea": None}}, {"adult": {"heart-rate": None}}])
def test_a_cell_that_does_not_exist_is_not_found(
    changes: dict[str, dict[str, dict[str, Any] | None]],
) -> None:
    with pytest.raises(NotFound):
        with_cells(a_document(), changes)
