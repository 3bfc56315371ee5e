from typing import Any

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.blank_cells import blank_cells, unexplained
from app.domain.profiles import Profile
from app.domain.settings_of_alarms import NoPolicy, NotFitted, Off, On, Setting
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document
from tests.worked_profiles import limits


def profile_of(document: dict[str, Any]) -> Profile:
    return profile_from_document({**document, "agency": "Skerry"})


@pytest.mark.parametrize(
    ("setting", "missing"),
    [
        (None, ()),
        (On(None), ("reason", "source")),
        (On(None, reason="agreed"), ("source",)),
        (On(None, source="a guideline"), ("reason",)),
        (On(None, reason=" ", source="a guideline"), ("reason",)),
        (On(None, reason="agreed", source="a guideline"), ()),
        (Off(), ("reason",)),
        (Off(source="a guideline"), ("reason",)),
        (Off("agreed"), ()),
        (NotFitted(), ()),
        (NoPolicy(), ()),
    ],
)
def test_on_needs_a_reason_and_a_source_and_off_a_reason(
    setting: Setting | None, missing: tuple[str, ...]
) -> None:
    assert unexplained(setting) == missing


@pytest.mark.parametrize(
    ("without", "parts", "missing"),
    [
        (("priority",), ("priority",), ()),
        (("delay_s", "latching"), ("delay", "latching"), ()),
        (("reason",), (), ("reason",)),
        (("priority", "source"), ("priority",), ("source",)),
    ],
)
def test_a_cell_is_blank_part_by_part(
    without: tuple[str, ...], parts: tuple[str, ...], missing: tuple[str, ...]
) -> None:
    document = a_document()
    for part in without:
        del document["settings"]["infant"]["spo2-low"][part]

    (found,) = blank_cells(profile_of(document))

    assert (found.category.key, found.alarm.key) == ("infant", "spo2-low")
    assert (found.parts, found.unexplained) == (parts, missing)
    assert found.left_blank == (*parts, *missing)
    assert not found.whole


def test_a_policy_that_says_everything_has_no_blank() -> None:
    assert blank_cells(profile_of(a_document())) == ()


def test_an_alarm_of_which_nothing_is_said_is_blank_as_a_whole() -> None:
    document = a_document()
    document["settings"]["adult"] = limits(45, 140, 8, 35, 88, 90)

    found = blank_cells(profile_of(document))

    assert {cell.category.key for cell in found} == {"adult"}
    assert len(found) == len(ALARM_CONDITIONS) - 6
    assert all(cell.whole for cell in found)
