"""How grave each deviation of a block is, exactly as `compare_preset` weighs it.

It weighs a deviation with what was found on the alarms that may stand in for it. Fleets repeat
themselves, so each combination of these is weighed once. The cost therefore grows with how many
different ones there are, not with the devices; it is no part of `compare_block`.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import base_alarm, compare_preset
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import Reading
from app.domain.findings import Severity
from app.domain.fleet import Column
from app.domain.option_judgement import ANY_PRESET
from app.domain.outer_bounds import OuterBounds
from app.domain.reading_block import BlockDeviations, ReadingBlock, SignedBlock
from app.domain.rules.life_threats import APNOEAS, ARRESTS
from app.domain.silence import alarm_of, side_of

SEVERITIES: tuple[Severity, ...] = tuple(Severity)
"""By severity code."""
_CAPNOGRAPHY = ("etco2-low", "etco2-high")  # where it is fitted, airway apnoea must be on


def block_severities(
    block: ReadingBlock,
    signed: SignedBlock,
    found: BlockDeviations,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> NDArray[np.int8]:
    """The severity code of each deviation, in their order."""
    severities = np.zeros(len(found), np.int8)
    for column in np.unique(found.columns).tolist():
        here = np.flatnonzero(found.columns == column)
        severities[here] = list(_of_column(block, signed, column, found.rows[here], bounds))
    return severities


def _of_column(
    block: ReadingBlock,
    signed: SignedBlock,
    column: int,
    rows: NDArray[np.int32],
    bounds: OuterBounds,
) -> Iterator[int]:
    beside = _with_a_say(block.layout, column)
    codes = block.vals[rows[:, np.newaxis], beside].tolist()
    known: dict[tuple[object, ...], int] = {}
    for row, line in zip(rows.tolist(), codes, strict=True):
        noted = [block.noted.get((row, place)) for place in beside] if block.noted else ()
        key = (*line, *noted)
        if key not in known:
            readings = {block.layout[place][1]: block.reading(row, place) for place in beside}
            known[key] = _weighed(signed, column, readings, bounds)
        yield known[key]


def _weighed(
    signed: SignedBlock, column: int, readings: dict[str, Reading], bounds: OuterBounds
) -> int:
    preset, (name, alarm) = signed.presets[column], signed.layout[column]
    if name == ANY_PRESET:
        return SEVERITIES.index(signed.options.severity(alarm, readings[alarm]))
    deviations = preset and compare_preset(preset, readings, bounds, signed.spo2_averaging_s)
    return next(SEVERITIES.index(d.severity) for d in deviations or () if d.alarm == alarm)


def _with_a_say(layout: Sequence[Column], column: int) -> list[int]:
    """The columns of the same preset whose readings decide how grave a deviation here is."""
    preset, alarm = layout[column]
    if preset == ANY_PRESET:
        return [column]
    alarms = _stand_ins(base_alarm(alarm))
    return [
        place
        for place, (of, other) in enumerate(layout)
        if of == preset and base_alarm(other) in alarms
    ]


def _stand_ins(alarm: str) -> set[str]:
    group, side = side_of(ALARM_CONDITIONS[alarm])
    alarms = {alarm_of(quantity, side).key for quantity in group}
    if alarm in ARRESTS:
        alarms |= set(ARRESTS)
    if alarm in APNOEAS:
        alarms |= {*APNOEAS, *_CAPNOGRAPHY}
    return alarms
