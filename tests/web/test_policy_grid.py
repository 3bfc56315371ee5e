from dataclasses import replace
from typing import Any

import pytest

from app.domain.blank_cells import blank_cells
from app.domain.findings import Severity
from app.domain.profiles import Profile
from app.domain.rules import check
from app.exchange.profile_json import profile_from_document
from app.web.policy_grid import BlankCount, Cell, changed_cells, grid
from tests.builders import a_document


def profile_of(document: dict[str, Any]) -> Profile:
    return profile_from_document({**document, "agency": "Skerry"})


def cell(alarm: str, **setting: object) -> Cell:
    document = a_document()
    document["settings"]["infant"][alarm] = setting
    profile = profile_of(document)
    row = next(row for row in grid(profile, ()) if row.alarm.key == alarm)
    return row.cells[1]


@pytest.mark.parametrize(
    ("alarm", "setting", "words", "deep", "latitude"),
    [
        ("heart-rate-low", {"state": "on", "limit": 90}, "below 90 /min", "", ""),
        ("etco2-high", {"state": "on", "limit": 6.5, "unit": "kPa"}, "above 6.5 kPa", "", ""),
        ("apnoea", {"state": "on", "limit": 20}, "after 20 s", "", ""),
        ("asystole", {"state": "on", "limit": None}, "on", "", ""),
        ("spo2-high", {"state": "off"}, "off", "", ""),
        ("spo2-high", {"state": "not-fitted"}, "not fitted", "", ""),
        ("spo2-high", {"state": "no-policy"}, "no policy", "", ""),
        ("heart-rate-low", {"state": "on", "limit": 90, "deep": {"limit": 60}},
         "below 90 /min", "deep line 60", ""),
        ("heart-rate-low", {"state": "on", "limit": 90, "deep": {"limit": 60, "delay_s": 0}},
         "below 90 /min", "deep line 60, 0 s", ""),
        ("heart-rate-low",
         {"state": "on", "limit": 90, "latitude": {"from": 80, "to": 100, "off_by": "nobody"}},
         "below 90 /min", "", "crew 80 to 100"),
        ("spo2-high", {"state": "off", "latitude": {"off_by": "medical-control"}},
         "off", "", "medical control may switch off"),
    ],
)  # fmt: skip
def test_a_cell_says_what_is_set(
    alarm: str, setting: dict[str, object], words: str, deep: str, latitude: str
) -> None:
    found = cell(alarm, **setting)

    assert (found.words, found.deep_words, found.latitude_words) == (words, deep, latitude)


@pytest.mark.parametrize(
    ("setting", "told"),
    [
        ({"state": "on", "limit": 90}, "no priority, no delay, no latching, no reason, no source"),
        ({"state": "off"}, "no reason"),
        ({"state": "off", "reason": "agreed"}, ""),
        ({"state": "no-policy"}, ""),
    ],
)
def test_a_cell_says_what_is_left_blank(setting: dict[str, object], told: str) -> None:
    found = cell("heart-rate-low", **setting)

    assert (found.left_blank, found.blank) == (told, bool(told))


def test_a_finding_is_marked_at_the_cells_that_it_names() -> None:
    profile = profile_of(a_document({"heart-rate-high": 185}))

    rows = grid(profile, check(profile))

    marked = {one.id for row in rows for one in row.cells if one.gravest is Severity.UNSAFE}
    assert marked == {"cell-preschool-heart-rate-high"}


def test_what_an_edit_lifts_elsewhere_is_shown_anew_too() -> None:
    before = grid(profile_of(a_document()), ())
    other = replace(before[0].cells[0], gravest=Severity.NOTE)
    after = (replace(before[0], cells=(other, *before[0].cells[1:])), *before[1:])

    changed = changed_cells(before, after, ("cell-adult-asystole",))

    assert [one.id for one in changed] == ["cell-neonate-heart-rate-low", "cell-adult-asystole"]


@pytest.mark.parametrize(
    ("without", "words"),
    [
        ((), "No blanks."),
        ((("spo2-low", "delay_s"),),
         "1 cell has a blank that must be filled before it can be signed."),
        ((("spo2-low", "delay_s"), ("apnoea", "latching")),
         "2 cells have blanks that must be filled before it can be signed."),
        ((("spo2-low", "reason"),), "1 cell without a reason or source."),
        ((("spo2-low", "reason"), ("apnoea", "source")), "2 cells without a reason or source."),
        ((("spo2-low", "reason"), ("apnoea", "priority")),
         "2 cells have blanks; 1 of them must be filled before it can be signed."),
    ],
)  # fmt: skip
def test_blanks_are_counted_in_words(without: tuple[tuple[str, str], ...], words: str) -> None:
    document = a_document()
    for alarm, part in without:
        del document["settings"]["infant"][alarm][part]

    found = BlankCount(blank_cells(profile_of(document)))

    assert found.words == words
    labels = [one.label for one in found.by_category]
    assert labels == (["Infant"] if without else [])
