from typing import Any

import pytest

from app.domain.copied_settings import Extent, Fate, copied_cells

ON: dict[str, Any] = {
    "state": "on",
    "limit": 90,
    "priority": "high",
    "delay_s": 5,
    "reason": "a",
    "source": "b",
}
OFF: dict[str, Any] = {"state": "off", "reason": "no target"}
ALL, BLANKS = Extent.ALL, Extent.BLANKS


@pytest.mark.parametrize(
    ("source", "target", "extent", "fate", "after"),
    [
        (ON, None, ALL, Fate.FILLED, ON),
        (ON, None, BLANKS, Fate.FILLED, ON),
        (None, ON, ALL, None, None),
        (None, None, ALL, None, None),
        (ON, ON, ALL, None, None),
        (ON, ON, BLANKS, None, None),
        (ON, {**ON, "limit": 80}, ALL, Fate.OVERWRITTEN, ON),
        (ON, {**ON, "limit": 80}, BLANKS, None, None),
        (ON, OFF, ALL, Fate.OVERWRITTEN, ON),
        (ON, OFF, BLANKS, None, None),
        (ON, {"state": "on", "limit": 80}, BLANKS, Fate.COMPLETED, {**ON, "limit": 80}),
        (ON, {**ON, "limit": 80, "reason": " "}, BLANKS, Fate.COMPLETED, {**ON, "limit": 80}),
        (ON, {**ON, "priority": None}, BLANKS, Fate.COMPLETED, ON),
        ({**ON, "priority": None}, {**ON, "priority": None}, BLANKS, None, None),
        ({**ON, "delay_s": 0}, {**ON, "delay_s": None}, BLANKS, Fate.COMPLETED,
         {**ON, "delay_s": 0}),
        (OFF, {"state": "off"}, BLANKS, Fate.COMPLETED, OFF),
    ],
)  # fmt: skip
def test_what_becomes_of_a_cell(
    source: dict[str, Any] | None,
    target: dict[str, Any] | None,
    extent: Extent,
    fate: Fate | None,
    after: dict[str, Any] | None,
) -> None:
    def held(setting: dict[str, Any] | None) -> dict[str, dict[str, Any]]:
        return {} if setting is None else {"spo2-low": setting}

    found = copied_cells(held(source), held(target), extent)

    told = [(cell.fate, cell.before, cell.after) for cell in found]
    assert told == ([] if fate is None else [(fate, target, after)])


def test_one_alarm_can_be_copied_alone() -> None:
    source = {"spo2-low": ON, "spo2-high": OFF}

    found = copied_cells(source, {}, ALL, alarm="spo2-high")

    assert [(cell.alarm.key, cell.after) for cell in found] == [("spo2-high", OFF)]
