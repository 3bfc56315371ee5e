from typing import Any

import pytest

from app.domain.redline import Rank, Redline, redline
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def between(was: dict[str, Any], now: dict[str, Any], **more: Any) -> Redline:
    before, after = (
        profile_from_document(five_categories() | more | {"options": options})
        for options in (was, now)
    )
    return redline(before, after)


def value(written: Any, reason: str = "agreed") -> dict[str, Any]:
    return {"value": written, "reason": reason}


@pytest.mark.parametrize(
    ("key", "was", "now", "direction", "sentence"),
    [
        ("longest-pause-s", 120, 121, "looser",
         "The longest pause, in which no alarm sounds, is 121 s instead of 120 s."),
        ("longest-pause-s", 120, 119, "tighter",
         "The longest pause, in which no alarm sounds, is 119 s instead of 120 s."),
        ("reminder-s", 120, "off", "looser",
         "The reminder of a silenced alarm is off instead of 120 s."),
        ("nibp-interval-min", 5, "manual", "looser",
         "The time between two pressures is manual instead of 5 min."),
        ("audio-volume", 80, 79, "looser", "The volume of alarms is 79 % instead of 80 %."),
        ("audio-volume", 80, 81, "tighter", "The volume of alarms is 81 % instead of 80 %."),
        ("spo2-averaging-s", 8, 4, "tighter",
         "SpO₂ is averaged over 4 s instead of 8 s: shorter dips pass."),
        ("all-alarms-on-at-start", False, True, "tighter",
         "All alarms are on when a patient is connected."),
        ("default-lead", "II", "I", "other", "Default lead is I instead of II."),
        ("etco2-unit", "mm[Hg]", "kPa", "other", "EtCO₂ unit is kPa instead of mmHg."),
    ],
)  # fmt: skip
def test_an_option_says_which_way_it_moves(
    key: str, was: Any, now: Any, direction: str, sentence: str
) -> None:
    (change,) = between({key: value(was)}, {key: value(now)}).changes

    assert (change.direction, change.sentence) == (direction, sentence)


@pytest.mark.parametrize(
    ("key", "was", "now"),
    [
        ("longest-pause-s", 120, "permanent"),
        ("audio-volume", 80, "off"),
        ("audio-volume", 80, 0),
        ("all-alarms-on-at-start", True, False),
    ],
)
def test_an_option_that_silences_the_device_comes_first(key: str, was: Any, now: Any) -> None:
    (change,) = between({key: value(was)}, {key: value(now)}).changes

    assert (change.rank, change.direction) == (Rank.OPENS, "looser")
    assert len(change.silent) == 1


@pytest.mark.parametrize(("seconds", "rank"), [(30, Rank.LOOSER), (31, Rank.OPENS)])
def test_a_long_averaging_silences_low_saturation(seconds: int, rank: Rank) -> None:
    found = between({"spo2-averaging-s": value(8)}, {"spo2-averaging-s": value(seconds)})

    assert [change.rank for change in found.changes] == [rank]


def test_an_option_that_comes_goes_or_gets_another_reason() -> None:
    was = {"default-lead": value("II"), "audio-volume": value(80)}
    now = {"audio-volume": value(80, "heard again"), "longest-pause-s": value(120)}

    told = {change.option: (change.rank, change.sentence) for change in between(was, now).changes}

    assert told == {
        "audio-volume": (Rank.WORDS, "Audio volume stays 80 %; only its words change."),
        "longest-pause-s": (
            Rank.OTHER, "Longest pause is set to 120 s; nothing was said of it."
        ),
        "default-lead": (
            Rank.OTHER, "Nothing is said of Default lead any more; it was II."
        ),
    }  # fmt: skip


# Circumstances


def circumstance(applies_to: list[str], limit: int, label: str = "Hypercapnia") -> dict[str, Any]:
    settings = {"spo2-low": on(limit)}
    return {"key": "co2", "label": label, "applies_to": applies_to, "settings": settings}


def overlaid(was: list[dict[str, Any]], now: list[dict[str, Any]]) -> Redline:
    before, after = (
        profile_from_document(five_categories() | {"circumstances": chosen})
        for chosen in (was, now)
    )
    return redline(before, after)


def test_a_circumstance_is_compared_with_itself_by_age() -> None:
    found = overlaid([circumstance(["adult"], 86)], [circumstance(["adult"], 84)])

    assert found.circumstances == ()
    assert [change.sentence for change in found.changes] == [
        "Hypercapnia, 13 y and over: SpO₂ can fall from 86 to 84 % unannounced."
    ]


def test_a_new_circumstance_is_compared_with_what_holds_without_it() -> None:
    found = overlaid([], [circumstance(["adult"], 86)])

    assert [one.sentence for one in found.circumstances] == [
        "Hypercapnia can be chosen for Adult; it is new."
    ]
    assert [change.sentence for change in found.changes] == [
        "Hypercapnia, 13 y and over: SpO₂ can fall from 88 to 86 % unannounced."
    ]


def test_a_circumstance_that_goes_leaves_the_plain_limit() -> None:
    found = overlaid([circumstance(["adult"], 86)], [])

    assert [one.sentence for one in found.circumstances] == [
        "Hypercapnia can no longer be chosen; it was, for Adult."
    ]
    assert [change.direction for change in found.changes] == ["tighter"]


def test_a_circumstance_for_others_or_by_another_name_is_told() -> None:
    was = circumstance(["adult"], 90)
    moved = overlaid([was], [circumstance(["adult", "child"], 90)])
    renamed = overlaid([was], [circumstance(["adult"], 90, "Carbon dioxide")])

    assert [one.sentence for one in moved.circumstances] == [
        "Hypercapnia can be chosen for Child, Adult instead of Adult."
    ]
    assert moved.changes == ()
    assert [one.sentence for one in renamed.circumstances] == [
        "Carbon dioxide was called Hypercapnia."
    ]
