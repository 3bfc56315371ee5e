"""A whole fleet held against a revision, with the list of what deviates."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import Direction
from app.domain.fleet import Column
from app.domain.packing import OFF
from app.domain.profiles import Profile
from app.domain.reading_block import (
    DIRECTIONS,
    BlockDeviations,
    Codes,
    ReadingBlock,
    SignedBlock,
    compare_block,
    signed_block,
)
from app.exchange.profile_json import profile_from_document
from tests.bench.contests import Contest, Rival
from tests.bench.taking_in import wide_document

DEVICES = (1_000, 10_000, 100_000)
"""At 1×, 10× and 100×: the ratio should stay."""
ALARMS = 16  # of each preset
_STRAYING = 0.05  # of all readings
_SWITCHED_OFF = 0.1  # of those


def contest(devices: int) -> Contest:
    block, signed = a_fleet(devices)
    return Contest(
        name="hold a fleet against a revision",
        size=f"{devices:,} devices × {len(signed.layout)} settings",
        ours=Rival("compare the block", lambda: Listed(compare_block(block, signed))),
        others=(
            Rival(
                "np.not_equal of the same",
                lambda: np.not_equal(block.vals, signed.expected),
                answers=False,
            ),
            Rival("a loop over the readings", lambda: _looped(block.vals, signed)),
        ),
        target="at most 6 × np.not_equal",
    )


@dataclass(frozen=True, eq=False)
class Listed:
    """Equal to the list of (row, column, direction); told apart only when asked, not timed."""

    found: BlockDeviations

    def __eq__(self, other: object) -> bool:
        found = self.found
        directions = [DIRECTIONS[code] for code in found.directions.tolist()]
        told = zip(found.rows.tolist(), found.columns.tolist(), directions, strict=True)
        return list(told) == other


def a_fleet(devices: int) -> tuple[ReadingBlock, SignedBlock]:
    profile, layout = _policy()
    signed = signed_block(profile, "turnstone", layout)
    dice = np.random.default_rng(20261125)
    vals = np.tile(signed.expected, (devices, 1))
    strays = dice.random(vals.shape) < _STRAYING
    off = strays & (dice.random(vals.shape) < _SWITCHED_OFF)
    by = dice.integers(1, 20, vals.shape, np.int16) * dice.choice([-1, 1], vals.shape)
    vals[strays] += by[strays].astype(np.int16)
    vals[off] = OFF
    return ReadingBlock(tuple(layout), vals, {}), signed


def _policy() -> tuple[Profile, list[Column]]:
    """The one that is signed for fleets in a database file; its categories are the presets."""
    document = wide_document()
    settings = document["settings"]
    numbers = [
        alarm
        for alarm, condition in ALARM_CONDITIONS.items()
        if condition.vital_sign and all(_has_limit(held[alarm]) for held in settings.values())
    ]
    alarms = numbers[:ALARMS]
    layout = [(preset, alarm) for preset in settings for alarm in alarms]
    return profile_from_document({**document, "agency": "Skerry Isles Ambulance"}), layout


def _has_limit(setting: dict[str, Any]) -> bool:
    return setting["state"] == "on" and "deep" not in setting


def _looped(vals: Codes, signed: SignedBlock) -> list[tuple[int, int, Direction]]:
    looser_up = [ALARM_CONDITIONS[alarm].looser == "up" for _, alarm in signed.layout]
    expected = list(zip(signed.expected.tolist(), looser_up, strict=True))
    found = []
    for row, values in enumerate(vals.tolist()):
        for column, (value, (wanted, up)) in enumerate(zip(values, expected, strict=True)):
            if value == OFF:
                found.append((row, column, Direction.SWITCHED_OFF))
            elif value != wanted:
                looser = (value > wanted) is up
                found.append((row, column, Direction.LOOSER if looser else Direction.TIGHTER))
    return found
