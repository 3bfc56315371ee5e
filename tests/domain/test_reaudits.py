from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import InForce
from app.domain.comparison import Direction
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import CouldNotRead, FoundOff, Reading
from app.domain.findings import Severity
from app.domain.fleet import Column
from app.domain.packing import pack
from app.domain.reading_block import reading_block
from app.domain.reaudits import Reaudit, UnsafeToday, Worst, reaudited
from tests.domain.presets import read
from tests.domain.test_changeover import BEGAN, policy

Held = dict[Column, Reading]
LAYOUT: list[Column] = [("child", "heart-rate-high"), ("child", "heart-rate-low")]
TODAY = InForce(
    2,
    BEGAN,
    policy({"heart-rate-low": 75, "heart-rate-high": 150}, {}),
    DEFAULT_BOUNDS,
    {},
)
UNSAFE, OFF = Severity.UNSAFE, Severity.OFF_PROTOCOL
SILENT: Held = {("child", "heart-rate-high"): read(250), ("child", "heart-rate-low"): read(75)}
TIGHT: Held = {("child", "heart-rate-high"): read(149), ("child", "heart-rate-low"): read(75)}
AS_SIGNED: Held = {("child", "heart-rate-high"): read(150), ("child", "heart-rate-low"): read(75)}
DARK: Held = {
    ("child", "heart-rate-high"): CouldNotRead("dark"),
    ("child", "heart-rate-low"): read(75),
}


def audit(*fleet: tuple[Held, Worst]) -> Reaudit:
    block = reading_block(LAYOUT, [pack(LAYOUT, held) for held, _ in fleet])
    against = BlockAgainst(TODAY, "", LAYOUT)
    devices = [f"kit-{number}" for number in range(len(fleet))]
    return reaudited(against, block, devices, [then for _, then in fleet])


def test_every_device_is_counted_as_it_was_judged_and_as_it_stands_today() -> None:
    found = audit((SILENT, None), (SILENT, UNSAFE), (TIGHT, UNSAFE), (AS_SIGNED, OFF), (DARK, None))

    assert found.counts == {
        (None, UNSAFE): 1,
        (UNSAFE, UNSAFE): 1,
        (UNSAFE, OFF): 1,
        (OFF, None): 1,
        (None, None): 1,
    }
    assert (found.devices, found.then(UNSAFE), found.today(UNSAFE), found.today(None)) == (
        5,
        2,
        2,
        2,
    )


def test_what_is_unsafe_today_is_named_and_whether_it_was_when_read() -> None:
    found = audit((SILENT, OFF), (SILENT, UNSAFE))

    assert [(one.place, one.direction) for one in found.unsafe] == [
        ((f"kit-{number}", "child", "heart-rate-high"), Direction.LOOSER) for number in (0, 1)
    ]
    assert [one.device for one in found.newly_unsafe] == ["kit-0"]


def test_a_device_with_several_deviations_counts_once_with_its_worst() -> None:
    both = SILENT | {("child", "heart-rate-low"): read(80)}

    assert audit((both, None)).counts == {(None, UNSAFE): 1}


def test_off_on_a_danger_bound_is_unsafe() -> None:
    off = AS_SIGNED | {("child", "heart-rate-low"): FoundOff()}

    assert audit((off, None)).unsafe == (
        UnsafeToday("kit-0", "child", "heart-rate-low", Direction.SWITCHED_OFF, since_read=True),
    )


def test_chunks_add_up() -> None:
    both = audit((SILENT, None)) + audit((AS_SIGNED, None), (AS_SIGNED, OFF))

    assert both.devices == 3
    assert len(both.unsafe) == 1
