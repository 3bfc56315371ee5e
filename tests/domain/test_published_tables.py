"""The shelf holds every source, and every row of it can be read."""

import pkgutil

import pytest

from app.domain import reference_ranges
from app.domain.published_tables import SHELF, PublishedTable

_SHAPES = {"range_rows", "score_steps", "weight_rows"}  # what rows look like, no publication


def test_every_publication_that_is_held_is_on_the_shelf() -> None:
    held = {module.name for module in pkgutil.iter_modules(reference_ranges.__path__)}

    assert {table.module for table in SHELF} == held - _SHAPES


@pytest.mark.parametrize("table", SHELF, ids=lambda table: table.module)
def test_every_row_has_a_cell_for_every_word_of_the_head(table: PublishedTable) -> None:
    assert table.rows
    assert {len(row) for row in table.rows} == {len(table.head)}
    assert all(isinstance(cell, str) for row in table.rows for cell in row)
    assert table.used_for.endswith(".")
    assert table.read_as


@pytest.mark.parametrize(
    ("module", "row"),
    [
        ("fleming_2011", ("Heart rate", "Birth", "90", "107", "116", "127", "138", "148", "164")),
        (
            "pews_england_2023",
            (
                "Respiratory rate",
                "1 y to 5 y",
                "below 10: 4 · from 10: 2 · from 20: 0 · from 40: 1 · from 50: 2 · from 60: 4",
            ),
        ),
        (
            "news2_2017",
            (
                "SpO₂",
                "16 y and over, hypercapnia risk",
                "below 84: 3 · from 84: 2 · from 86: 1 · from 88: 0",
            ),
        ),
        ("met_criteria", ("DeVita 2004", "Respiratory rate", "adult", "", "8", "36")),
        (
            "pals_2015",
            (
                "hypotension below",
                "NIBP systolic",
                "Child 1-10 y",
                "",
                "70 + 2 a year of age",
                "",
            ),
        ),
        ("gemelli_1990", ("female", "1 mo", "82 ± 9", "46 ± 10", "146 ± 15")),
        ("flynn_2017", ("13 y and over", "120/80", "120/80")),
        ("who_weight", ("0 mo", "3.3464", "3.2322")),
        ("cdc_weight", ("10 y", "32.6")),
    ],
)
def test_a_row_reads_as_its_source_prints_it(module: str, row: tuple[str, ...]) -> None:
    (table,) = [table for table in SHELF if table.module == module]

    assert row in table.rows
