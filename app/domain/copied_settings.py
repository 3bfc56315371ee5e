"""Settings of one category copied into another: what it would fill and overwrite, before it does.

Settings are taken as a document holds them, so that a limit keeps its unit as written.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition

Written = Mapping[str, Any]
_PARTS = ("priority", "delay_s", "latching", "reason", "source")


class Extent(StrEnum):
    """`BLANKS` leaves whatever is set as it is."""

    ALL = "all"
    BLANKS = "blanks"


class Fate(StrEnum):
    """What becomes of a cell. A blank of the source changes nothing."""

    FILLED = "filled"
    COMPLETED = "completed"
    OVERWRITTEN = "overwritten"


@dataclass(frozen=True)
class CopiedCell:
    alarm: AlarmCondition
    before: Written | None
    after: Written
    fate: Fate


def copied_cells(
    source: Mapping[str, Written],
    target: Mapping[str, Written],
    extent: Extent,
    *,
    alarm: str | None = None,
) -> tuple[CopiedCell, ...]:
    """Those that change; `alarm` None copies all of them."""
    asked = ALARM_CONDITIONS if alarm is None else {alarm: ALARM_CONDITIONS[alarm]}
    return tuple(_copied(source, target, extent, asked))


def _copied(
    source: Mapping[str, Written],
    target: Mapping[str, Written],
    extent: Extent,
    asked: Mapping[str, AlarmCondition],
) -> Iterator[CopiedCell]:
    for key, alarm in asked.items():
        new, held = source.get(key), target.get(key)
        if new is None:
            continue
        if held is None:
            yield CopiedCell(alarm, None, new, Fate.FILLED)
        elif extent is Extent.BLANKS:
            completed = _completed(held, new)
            if completed != held:
                yield CopiedCell(alarm, held, completed, Fate.COMPLETED)
        elif new != held:
            yield CopiedCell(alarm, held, new, Fate.OVERWRITTEN)


def _completed(held: Written, new: Written) -> Written:
    """The parts left blank, from a setting of the same state; its limit stays."""
    if held["state"] != new["state"]:
        return held
    missing = {p: new[p] for p in _PARTS if _is_blank(held, p) and not _is_blank(new, p)}
    return {**held, **missing}


def _is_blank(held: Written, part: str) -> bool:
    value = held.get(part)
    return value is None or (isinstance(value, str) and not value.strip())
