"""Whole blocks of devices beside the revision in force today; what `InForce.gap` says of one."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.domain.block_severities import SEVERITIES, block_severities
from app.domain.changeover import Gap, InForce
from app.domain.comparison import Direction
from app.domain.findings import Severity
from app.domain.fleet import Column
from app.domain.reading_block import (
    DIRECTIONS,
    BlockDeviations,
    ReadingBlock,
    SignedBlock,
    compare_block,
    signed_block,
)

Astray = NDArray[np.bool_]
"""Rows are devices, columns the presets of a layout: something on it deviates."""
_UNREAD = DIRECTIONS.index(Direction.UNREAD)
_UNSAFE = SEVERITIES.index(Severity.UNSAFE)


@dataclass(frozen=True)
class HeldAgainst:
    """A place each for what deviates, unread ones left out, and how grave it is."""

    found: BlockDeviations
    severities: NDArray[np.int8]

    @property
    def unsafe(self) -> NDArray[np.int64]:
        """Places among what deviates."""
        return np.flatnonzero(self.severities == _UNSAFE)


class BlockAgainst:
    """One model and layout beside the revision in force today and those before it."""

    def __init__(self, today: InForce, model: str, layout: Sequence[Column]) -> None:
        self._today = today
        self._signed = signed_block(today.profile, model, layout)
        self._older = {
            number: signed_block(profile, model, layout) for number, profile in today.older.items()
        }
        self.presets = list(dict.fromkeys(preset for preset, _ in layout))
        self._preset_of = np.array([self.presets.index(preset) for preset, _ in layout], np.int64)

    def deviations(self, block: ReadingBlock) -> BlockDeviations:
        """But what could not be read."""
        return _was_read(compare_block(block, self._signed))

    def held(self, block: ReadingBlock) -> HeldAgainst:
        found = self.deviations(block)
        return HeldAgainst(found, block_severities(block, self._signed, found, self._today.bounds))

    def astray(self, block: ReadingBlock, found: BlockDeviations) -> Astray:
        astray = np.zeros((len(block.vals), len(self.presets)), np.bool_)
        astray[found.rows, self._preset_of[found.columns]] = True
        return astray

    def gaps(self, block: ReadingBlock) -> dict[int, Gap]:
        """By row, only where there is one."""
        held = self.held(block)
        differs = np.bincount(held.found.rows, minlength=len(block.vals))
        unsafe = set(held.found.rows[held.unsafe].tolist())
        as_in = self._as_in(block, self.astray(block, held.found))
        today = self._today
        return {
            row: Gap(
                today.number,
                today.began,
                differs=int(differs[row]),
                unsafe=row in unsafe,
                as_in=int(as_in[row]) or None,
                changeover=today.changeover,
            )
            for row in np.flatnonzero(differs).tolist()
        }

    def _as_in(self, block: ReadingBlock, astray: Astray) -> NDArray[np.int64]:
        """By row the latest older revision that holds on every preset that strays; 0: none."""
        latest = np.zeros(len(block.vals), np.int64)
        for number, signed in sorted(self._older.items()):
            against = self.astray(block, _was_read(compare_block(block, signed)))
            explains = ~(astray & (against | self._without(signed))).any(axis=1)
            latest[explains & astray.any(axis=1)] = number
        return latest

    def _without(self, signed: SignedBlock) -> NDArray[np.bool_]:
        """The presets that the model does not have in that revision."""
        has = {rendered.preset for rendered in signed.presets if rendered is not None}
        return np.array([preset not in has for preset in self.presets], np.bool_)


def _was_read(found: BlockDeviations) -> BlockDeviations:
    kept = found.directions != _UNREAD
    return BlockDeviations(found.rows[kept], found.columns[kept], found.directions[kept])
