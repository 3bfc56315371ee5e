"""Looks at one preset: what they bear out, and what only the device can settle."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from app.domain.device_reports import CouldNotRead, FoundNotFitted, FoundOff, Reading
from app.domain.double_reading import (
    DECOYS,
    UNSETTLED,
    Look,
    Rereading,
    alike,
    in_doubt,
    next_look,
    rereading,
    settled,
)
from app.domain.findings import Severity
from tests.domain.presets import read

MORNING = datetime(2026, 3, 1, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)
FEMI, TESS, CRUZ = 1, 2, 3
OFF, UNSAFE = Severity.OFF_PROTOCOL, Severity.UNSAFE
SIX = ("heart-rate-low", "heart-rate-high", "spo2-low", "apnoea", "nibp-systolic-low", "vpc-rate")
DARK = CouldNotRead("dark")


def look(
    found: Mapping[str, Reading],
    flagged: Mapping[str, Severity] | None = None,
    *,
    by: int = FEMI,
) -> Look:
    return Look(by, MORNING, found, flagged or {})


def looks(*found: Reading, flagged: Sequence[bool], alarm: str = "spo2-low") -> list[Look]:
    """One alarm, seen by one person after the other."""
    return [
        look({alarm: reading}, {alarm: OFF} if bad else {}, by=number + 1)
        for number, (reading, bad) in enumerate(zip(found, flagged, strict=True))
    ]


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


@pytest.mark.parametrize(
    ("found", "flagged", "doubtful", "known"),
    [
        # one look: what conforms is known, what deviates is not, what nobody could read stays so
        ([read(90)], [False], False, read(90)),
        ([read(88)], [True], True, UNSETTLED),
        ([DARK], [False], False, DARK),
        # two looks
        ([read(88), read(88)], [True, True], False, read(88)),
        ([read(88), read(90)], [True, False], True, UNSETTLED),
        ([read(88), DARK], [True, False], True, UNSETTLED),
        ([read(90), read(90)], [False, False], False, read(90)),  # a decoy
        ([read(90), read(88)], [False, True], True, UNSETTLED),  # a decoy that differs
        ([read(90), DARK], [False, False], False, read(90)),
        ([DARK, read(90)], [False, False], False, read(90)),
        ([DARK, read(88)], [False, True], True, UNSETTLED),
        # three looks: two of three
        ([read(88), read(90), read(88)], [True, False, True], False, read(88)),
        ([read(88), read(90), read(90)], [True, False, False], False, read(90)),
        ([read(88), read(90), read(89)], [True, False, True], True, UNSETTLED),
        ([read(88), read(90), FoundOff()], [True, False, True], True, UNSETTLED),
        ([read(88), read(90), DARK], [True, False, False], True, UNSETTLED),
        ([read(88), DARK, read(88)], [True, False, True], False, read(88)),
        ([read(88), read(88), read(90)], [True, True, False], True, UNSETTLED),
    ],
)
def test_what_looks_at_one_alarm_bear_out(
    found: list[Reading], flagged: list[bool], doubtful: bool, known: Reading
) -> None:
    made = looks(*found, flagged=flagged)

    assert in_doubt(made) == (("spo2-low",) if doubtful else ())
    assert settled(made) == {"spo2-low": known}


def test_what_is_settled_holds_everything_that_any_of_them_saw() -> None:
    made = looks(read(88, delay_s=5), read(88, priority="high"), flagged=[True, True])

    assert settled(made) == {"spo2-low": read(88, delay_s=5, priority="high")}


def test_an_alarm_that_was_not_asked_again_stays_as_it_was_seen() -> None:
    made = [
        look({"spo2-low": read(88), "apnoea": read(20)}, {"spo2-low": OFF}),
        look({"spo2-low": read(88)}, {"spo2-low": OFF}, by=TESS),
    ]

    assert settled(made) == {"spo2-low": read(88), "apnoea": read(20)}


# --- the next look


def first_of_six(*wrong: str, severity: Severity = OFF) -> Look:
    found: dict[str, Reading] = {alarm: read(90) for alarm in SIX}
    return look(found, dict.fromkeys(wrong, severity))


class InOrder:
    """Takes the first ones, and remembers from how many it could choose."""

    def __init__(self) -> None:
        self.asked: list[tuple[int, int]] = []

    def sample(self, population: Sequence[str], k: int) -> list[str]:
        self.asked.append((len(population), k))
        return list(population)[:k]


@pytest.mark.parametrize(
    ("mismatches", "asked"), [(0, None), (1, 3), (2, 4), (4, 6), (5, 6), (6, 6)]
)
def test_two_alarms_that_matched_are_read_again_with_those_that_did_not(
    mismatches: int, asked: int | None
) -> None:
    wrong = SIX[:mismatches]

    wanted = next_look([first_of_six(*wrong)], {FEMI}, Random(1))  # noqa: S311

    if asked is None:
        assert wanted is None
    else:
        assert wanted is not None
        assert len(wanted.asked) == len(set(wanted.asked)) == asked
        assert set(wrong) <= set(wanted.asked) <= set(SIX)
        assert wanted.number == 2


def test_the_dice_choose_the_decoys_and_the_order() -> None:
    dice = InOrder()

    next_look([first_of_six("spo2-low")], {FEMI}, dice)

    assert dice.asked == [(5, DECOYS), (0, 0), (3, 3)]


def test_where_too_few_matched_what_nobody_has_read_is_asked_with_it() -> None:
    """Else it would be plain which alarm is in doubt."""
    found: dict[str, Reading] = {"spo2-low": read(88), "vpc-rate": read(9)}
    found |= {"apnoea": DARK, "heart-rate-low": DARK}

    wanted = next_look([look(found, {"spo2-low": OFF})], {FEMI}, InOrder())

    assert wanted is not None
    assert set(wanted.asked) == {"spo2-low", "vpc-rate", "apnoea"}


def test_what_two_looks_confirmed_is_not_asked_a_third_time() -> None:
    again = {alarm: read(90) for alarm in ("spo2-low", "apnoea", "vpc-rate", "heart-rate-low")}
    second = look(again | {"apnoea": read(70)}, {"spo2-low": OFF}, by=TESS)

    wanted = next_look([first_of_six("spo2-low", "apnoea"), second], {FEMI, TESS}, InOrder())

    assert wanted is not None
    assert "apnoea" in wanted.asked
    assert "spo2-low" not in wanted.asked


@pytest.mark.parametrize(
    ("severity", "readers", "other_than"),
    [
        (OFF, {FEMI}, set()),
        (OFF, {FEMI, TESS}, set()),
        (UNSAFE, {FEMI, TESS}, {FEMI}),
        (UNSAFE, {FEMI}, {FEMI}),  # and if there is nobody else, somebody has to be found
    ],
)
def test_a_second_person_looks_at_anything_unsafe(
    severity: Severity, readers: set[int], other_than: set[int]
) -> None:
    wanted = next_look([first_of_six("spo2-low", severity=severity)], readers, InOrder())

    assert wanted is not None
    assert wanted.other_than == other_than


@pytest.mark.parametrize(
    ("second", "severity", "readers", "other_than"),
    [
        (TESS, OFF, {FEMI, TESS, CRUZ}, {FEMI, TESS}),
        (TESS, OFF, {FEMI, TESS}, set()),  # nobody else is there
        (FEMI, OFF, {FEMI}, set()),
        (FEMI, OFF, {FEMI, TESS}, {FEMI}),
        (FEMI, UNSAFE, {FEMI}, {FEMI}),
        (TESS, UNSAFE, {FEMI, TESS}, set()),
    ],
)
def test_a_third_person_looks_a_third_time_if_there_is_one(
    second: int, severity: Severity, readers: set[int], other_than: set[int]
) -> None:
    differs = look({"spo2-low": read(70)}, {"spo2-low": severity}, by=second)

    wanted = next_look([first_of_six("spo2-low"), differs], readers, InOrder())

    assert wanted is not None
    assert (wanted.number, set(wanted.other_than)) == (3, other_than)


def test_after_a_third_look_nobody_is_asked_again() -> None:
    made = looks(read(88), read(90), read(89), flagged=[True, False, True])

    assert next_look(made, {FEMI, TESS, CRUZ, 4}, InOrder()) is None


# --- what it brought


def test_flags_that_further_looks_bear_out_are_confirmed() -> None:
    first = first_of_six("spo2-low", "apnoea")
    again = {"spo2-low": read(90), "apnoea": read(70), "vpc-rate": read(90)}
    second = look(again, {"spo2-low": OFF}, by=TESS)
    third = look({"apnoea": read(70)}, by=CRUZ)

    assert rereading([first, second, third]) == Rereading(
        flags=2, confirmed=1, compared=3, disagreed=1
    )


def test_what_only_one_could_read_is_not_compared() -> None:
    second = look({"spo2-low": DARK}, by=TESS)

    assert rereading([first_of_six("spo2-low"), second]) == Rereading(1, 0, 0, 0)
