"""Two people at one device: what they agree on, and what only the device can settle."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from app.domain.device_reports import CouldNotRead, FoundNotFitted, FoundOff, NotRead, Reading
from app.domain.double_reading import (
    DoubleReading,
    Look,
    alike,
    disagreement,
    double_reading,
    double_readings,
    fields_to_read_again,
    settle,
)
from tests.domain.presets import read

MORNING = datetime(2026, 3, 1, 8, tzinfo=UTC)
HOUR, DAY, SECOND = timedelta(hours=1), timedelta(days=1), timedelta(seconds=1)
SIX = ("heart-rate-low", "heart-rate-high", "spo2-low", "apnoea", "nibp-systolic-low", "vpc-rate")


def look(
    person: str = "Femi",
    readings: Mapping[str, Reading] | None = None,
    *,
    after: timedelta = timedelta(0),
    device: str = "boat-3",
    preset: str = "CHILD",
    counts: bool = True,
) -> Look:
    found = {"spo2-low": read(90)} if readings is None else readings
    return Look(device, preset, person, MORNING + after, counts, found)


def both(first: Mapping[str, Reading], second: Mapping[str, Reading]) -> DoubleReading:
    found = double_reading(look("Femi", first), look("Tess", second, after=HOUR))
    assert found is not None
    return found


def with_mismatches(*alarms: str) -> DoubleReading:
    first: dict[str, Reading] = {alarm: read(90) for alarm in SIX}
    return both(first, {**first, **{alarm: read(88) for alarm in alarms}})


@pytest.mark.parametrize(
    ("second", "pairs"),
    [
        (look("Tess", after=HOUR), True),
        (look("Tess", after=DAY), True),
        (look("Tess", after=DAY + SECOND), False),
        (look("Tess"), True),
        (look("Femi", after=HOUR), False),  # one person is one reading
        (look("", after=HOUR), False),  # it may have been the same person
        (look("Tess", after=HOUR, device="boat-4"), False),
        (look("Tess", after=HOUR, preset="ADULT"), False),
        (look("Tess", after=HOUR, counts=False), False),
    ],
)
def test_two_readings_take_two_people_one_preset_and_one_day(second: Look, pairs: bool) -> None:
    assert (double_reading(look("Femi"), second) is not None) is pairs


def test_a_second_try_by_one_person_does_not_take_the_place_of_the_first() -> None:
    """Else whoever heard of a difference could make the entries equal."""
    tries = [
        look("Femi", {"spo2-low": read(90)}),
        look("Femi", {"spo2-low": read(88)}, after=HOUR),
        look("Tess", {"spo2-low": read(88)}, after=2 * HOUR),
    ]

    (found,) = double_readings(tries)

    assert found.mismatches == {"spo2-low": (read(90), read(88))}


def test_each_look_is_part_of_one_pair() -> None:
    looks = [look(person, after=n * HOUR) for n, person in enumerate(("A", "B", "C", "D"))]

    found = double_readings(reversed(looks))

    assert [(pair.first.person, pair.second.person) for pair in found] == [("A", "B"), ("C", "D")]


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (read(90), read("90.0"), True),
        (read(90), read(91), False),
        (read(90), FoundOff(), False),
        (FoundOff(), FoundOff(), True),
        (FoundOff(), FoundNotFitted(), False),
        (read(90, delay_s=5), read(90), True),
        (read(90, delay_s=5), read(90, delay_s=0), False),
        (read(90, priority="high"), read(90, priority="low"), False),
        (read(90, latching=True), read(90, latching=False), False),
        (read(8, unit="kPa"), read(8), True),
        (read(8, unit="kPa"), read(8, unit="mm[Hg]"), False),
    ],
)
def test_readings_are_alike_in_what_both_looked_at(
    one: Reading, other: Reading, expected: bool
) -> None:
    assert alike(one, other) is alike(other, one) is expected


def test_what_was_agreed_holds_everything_that_either_saw() -> None:
    found = both({"spo2-low": read(90, delay_s=5)}, {"spo2-low": read(90, priority="high")})

    assert found.agreed == {"spo2-low": read(90, delay_s=5, priority="high")}


@pytest.mark.parametrize(
    "second", [{}, {"spo2-low": NotRead()}, {"spo2-low": CouldNotRead("dark")}]
)
def test_what_only_one_could_read_is_not_compared(second: Mapping[str, Reading]) -> None:
    found = both({"spo2-low": read(90)}, second)

    assert (found.agreed, found.mismatches, found.compared) == ({}, {}, 0)


# --- reading again


class InOrder:
    """Takes the first ones, and remembers from how many it could choose."""

    def __init__(self) -> None:
        self.asked: list[tuple[int, int]] = []

    def sample(self, population: Sequence[str], k: int) -> list[str]:
        self.asked.append((len(population), k))
        return list(population)[:k]


@pytest.mark.parametrize(("mismatches", "fields"), [(0, 0), (1, 3), (2, 4), (4, 6), (5, 6), (6, 6)])
def test_two_fields_that_matched_are_read_again_with_those_that_did_not(
    mismatches: int, fields: int
) -> None:
    wrong = SIX[:mismatches]

    asked = fields_to_read_again(with_mismatches(*wrong), Random(1))  # noqa: S311

    assert len(asked) == len(set(asked)) == fields
    assert set(wrong) <= set(asked) <= set(SIX)


def test_the_dice_choose_the_decoys_and_the_order() -> None:
    dice = InOrder()

    fields_to_read_again(with_mismatches("spo2-low"), dice)

    assert dice.asked == [(5, 2), (3, 3)]


# --- the third look


@pytest.mark.parametrize(
    ("third", "known"),
    [
        (read(90), read(90)),
        (read(88), read(88)),
        (read(89), None),  # like neither
        (FoundOff(), None),
        (CouldNotRead("dark"), None),
        (NotRead(), None),
    ],
)
def test_a_mismatch_is_settled_by_what_the_device_shows_a_third_time(
    third: Reading, known: Reading | None
) -> None:
    double = both({"spo2-low": read(90)}, {"spo2-low": read(88)})

    settled = settle(double, look("Ravi", {"spo2-low": third}, after=2 * HOUR))

    assert settled.known.get("spo2-low") == known
    assert settled.open == (() if known else ("spo2-low",))
    assert double.mismatches == {"spo2-low": (read(90), read(88))}  # both entries stay


@pytest.mark.parametrize(
    ("third", "open_again"), [(read(90), False), (NotRead(), False), (read(60), True)]
)
def test_a_decoy_that_reads_otherwise_is_open_again(third: Reading, open_again: bool) -> None:
    double = both({"spo2-low": read(90)}, {"spo2-low": read(90)})

    settled = settle(double, look("Ravi", {"spo2-low": third}, after=2 * HOUR))

    assert (settled.open == ("spo2-low",)) is open_again
    assert ("spo2-low" in settled.known) is not open_again


def test_a_third_look_that_is_like_both_settles_nothing() -> None:
    """They differed in the delay, and it did not look at that."""
    double = both({"spo2-low": read(90, delay_s=0)}, {"spo2-low": read(90, delay_s=10)})

    assert settle(double, look("Ravi", after=2 * HOUR)).open == ("spo2-low",)


@pytest.mark.parametrize(
    "third",
    [
        look("Ravi", after=HOUR),  # not later than the second
        look("Ravi", after=2 * HOUR, device="boat-4"),
        look("Ravi", after=2 * HOUR, preset="ADULT"),
        look("Ravi", after=2 * HOUR, counts=False),
    ],
)
def test_only_a_later_look_at_the_same_preset_settles_it(third: Look) -> None:
    double = with_mismatches("spo2-low")

    with pytest.raises(ValueError, match="later look at the same preset"):
        settle(double, third)


# --- how often readers differ


def test_disagreement_is_the_share_of_the_fields_that_two_read() -> None:
    told = disagreement([with_mismatches("spo2-low"), with_mismatches("apnoea", "vpc-rate")])

    assert (told.mismatches, told.compared, told.share) == (3, 12, 0.25)
    assert told.interval.low < 0.25 < told.interval.high


def test_without_a_double_reading_nothing_is_said() -> None:
    assert disagreement([]).share is None
