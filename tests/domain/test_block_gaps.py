"""A block of devices beside today's revision says of each what `InForce.gap` says of it alone."""

import random
from decimal import Decimal

import pytest

from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import Gap, InForce
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
)
from app.domain.fleet import Column
from app.domain.packing import pack
from app.domain.reading_block import reading_block
from tests.domain.presets import read
from tests.domain.test_changeover import BEGAN, FIRST, SECOND_ONE, TODAY, policy

LAYOUT: list[Column] = [
    ("adult", "heart-rate-low"),
    ("child", "heart-rate-high"),
    ("child", "heart-rate-low"),
    ("old", "heart-rate-low"),
]
OLD = policy({"heart-rate-low": 70}, {"heart-rate-low": 45})
WITHOUT = policy({}, {"heart-rate-low": 50})
ANY: tuple[Reading, ...] = (
    *(read(value) for value in (45, 50, 70, 72, 75, 150, 160, 10, 240)),
    FoundOff(),
    FoundNotFitted(),
    NotRead(),
    CouldNotRead("dark"),
    FoundOn(Decimal("72.5")),
    FoundOn(Decimal(75), delay_s=Decimal(60)),
)


def gaps_of(today: InForce, fleet: list[dict[Column, Reading]]) -> dict[int, Gap]:
    block = reading_block(LAYOUT, [pack(LAYOUT, held) for held in fleet])
    return BlockAgainst(today, "", LAYOUT).gaps(block)


@pytest.mark.parametrize("seed", range(8))
def test_each_has_the_gap_that_it_would_have_alone(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311 - the same fleet every time, nothing secret
    fleet = [{column: dice.choice(ANY) for column in LAYOUT} for _ in range(200)]
    today = InForce(
        5, BEGAN, TODAY.profile, DEFAULT_BOUNDS, {1: FIRST, 2: SECOND_ONE, 3: OLD, 4: WITHOUT}
    )
    alone = [today.gap("", held) for held in fleet]

    found = gaps_of(today, fleet)

    assert found == {row: gap for row, gap in enumerate(alone) if gap.differs}
    assert len({(gap.unsafe, gap.as_in) for gap in found.values()}) > 2


@pytest.mark.parametrize(
    ("low", "high", "differs", "as_in"),
    [
        (read(75), read(150), 0, None),
        (read(72), read(160), 2, 2),
        (read(70), read(150), 1, None),
        (read(72), CouldNotRead("dark"), 1, 2),
        (CouldNotRead("dark"), NotRead(), 0, None),
    ],
)
def test_what_could_not_be_read_speaks_neither_for_nor_against(
    low: Reading, high: Reading, differs: int, as_in: int | None
) -> None:
    held = {("child", "heart-rate-low"): low, ("child", "heart-rate-high"): high}

    found = gaps_of(TODAY, [held]).get(0, Gap(3, BEGAN))

    assert (found.differs, found.as_in) == (differs, as_in)
