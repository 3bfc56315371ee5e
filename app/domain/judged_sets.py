"""Many readings of one preset and model, judged at once, exactly as `judge` does it singly."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from app.domain.agency_choices import AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.audit import tailored
from app.domain.block_severities import SEVERITIES, block_severities
from app.domain.comparison import Deviation, base_alarm
from app.domain.device_reports import Reading, StateRead
from app.domain.fleet import Judgement, critical_of
from app.domain.option_judgement import ANY_PRESET, option_deviations
from app.domain.outer_bounds import OuterBounds
from app.domain.packing import COULD_NOT_READ, NOT_READ
from app.domain.power_pauses import counts
from app.domain.profiles import Profile
from app.domain.reading_block import (
    DIRECTIONS,
    ReadingBlock,
    compare_block,
    reading_block,
    signed_block,
)
from app.domain.reading_sets import ReadingSet
from app.domain.rendering import RenderedPreset, rendered_presets


@dataclass(frozen=True, eq=False)
class SetVerdict:
    """Of what was found, whatever the state it was found in. `rendered` None: of options."""

    deviations: tuple[Deviation, ...]
    missing: int
    rendered: RenderedPreset | None
    offered: tuple[str, ...]
    retention_min: Decimal | None

    def judgement(self, state_read: StateRead, minutes_off: int | None) -> Judgement:
        deviations = self.deviations
        if state_read is StateRead.IN_USE:
            deviations = tuple(one for one in deviations if not self._tailored(one))
        told = counts(state_read, minutes_off, self.retention_min)
        return Judgement(deviations, self.offered, self.missing, told)

    def _tailored(self, found: Deviation) -> bool:
        if self.rendered is None:
            return False
        return tailored(found, self.rendered.unit_of(ALARM_CONDITIONS[base_alarm(found.alarm)]))


def judge_sets(
    profile: Profile,
    model: str,
    sets: Sequence[ReadingSet],
    *,
    bounds: OuterBounds,
    choices: AgencyChoices,
) -> list[SetVerdict]:
    """All of one layout, the verdicts in their order. Raises KeyError as `judge` does."""
    columns = sets[0].columns
    presets = rendered_presets(profile, model)
    if sets[0].preset == ANY_PRESET:
        return [_of_options(profile, model, one.readings) for one in sets]
    rendered = presets[sets[0].preset]
    block = reading_block(columns, [one.packed for one in sets])
    deviations = _deviations(profile, model, block, sets, bounds)
    missing = _missing(block, critical_of(rendered, choices))
    return [
        SetVerdict(tuple(found), lacking, rendered, tuple(presets), rendered.retention_min)
        for found, lacking in zip(deviations, missing, strict=True)
    ]


def _of_options(profile: Profile, model: str, readings: Mapping[str, Reading]) -> SetVerdict:
    presets = rendered_presets(profile, model)
    retention = next((preset.retention_min for preset in presets.values()), None)
    found = option_deviations(profile, model, readings)
    return SetVerdict(tuple(found), 0, None, tuple(presets), retention)


def _deviations(
    profile: Profile,
    model: str,
    block: ReadingBlock,
    sets: Sequence[ReadingSet],
    bounds: OuterBounds,
) -> list[list[Deviation]]:
    signed = signed_block(profile, model, block.layout)
    found = compare_block(block, signed)
    severities = block_severities(block, signed, found, bounds)
    deviations: list[list[Deviation]] = [[] for _ in sets]
    for row, column, direction, severity in zip(
        found.rows.tolist(),
        found.columns.tolist(),
        found.directions.tolist(),
        severities.tolist(),
        strict=True,
    ):
        preset, cell, way = signed.presets[column], sets[row].cells[column], DIRECTIONS[direction]
        if preset is not None and way is not None:
            setting = preset.settings.get(base_alarm(cell.alarm))
            grade = SEVERITIES[severity]
            deviations[row].append(Deviation(cell.alarm, setting, cell.reading, way, grade))
    return deviations


def _missing(block: ReadingBlock, critical: Sequence[str]) -> list[int]:
    """Alarms of the critical set that were not read, by row."""
    places = {alarm: place for place, (_, alarm) in enumerate(block.layout)}
    asked = [places[alarm] for alarm in critical if alarm in places]
    codes = block.vals[:, asked]
    unread = ((codes == COULD_NOT_READ) | (codes == NOT_READ)).sum(axis=1)
    lacking: list[int] = np.add(unread, len(critical) - len(asked)).tolist()
    return lacking
