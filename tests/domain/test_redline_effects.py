from typing import Any

import pytest

from app.demo.profile import document
from app.domain.ages import days
from app.domain.documents import with_setting
from app.domain.redline import redline
from app.domain.redline_effect_words import UNKNOWN, in_words_of, percent
from app.domain.redline_effects import VitalEffect, effects
from app.domain.redline_pictures import SHARE_HEIGHT, picture
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def effects_of(after: dict[str, Any], before: dict[str, Any] | None = None) -> list[VitalEffect]:
    old, new = (profile_from_document(one) for one in (before or five_categories(), after))
    return list(effects(old, new, redline(old, new)))


def changed(category: str, alarm: str, setting: dict[str, Any]) -> list[VitalEffect]:
    return effects_of(with_setting(five_categories(), category, alarm, setting))


def test_only_vital_signs_that_change_are_told() -> None:
    assert effects_of(five_categories()) == []
    assert changed("infant", "heart-rate-high", on(180, reason="read again")) == []
    assert changed("infant", "apnoea", on(20)) == []
    assert [one.vital.key for one in changed("infant", "spo2-low", on(91))] == ["spo2"]


@pytest.mark.parametrize(
    ("limit", "depth"), [(180, []), (181, ["181 to 181"]), (185, ["181 to 185"])]
)
def test_the_silent_gap_is_told_before_and_after(limit: int, depth: list[str]) -> None:
    (found,) = changed("young-child", "heart-rate-high", on(limit))

    danger = [
        [s for s in held.silent if s.bound.grade == "danger"]
        for held in (found.before, found.after)
    ]
    assert danger[0] == []
    assert [f"{s.start} to {s.end}" for s in danger[1]] == depth
    assert [str(s.ages) for s in danger[1]] == ["1 y to 5 y"] * len(depth)


@pytest.mark.parametrize(
    ("was", "now", "sentence"),
    [
        (170, 171, "No danger passes unannounced, before or after."),
        (170, 185, "Danger passes unannounced at 1 y to 5 y that sounded before."),
        (185, 186, "Danger passes unannounced at 1 y to 5 y that sounded before."),
        (185, 170, "Danger sounds at 1 y to 5 y that passed unannounced before."),
    ],
)
def test_what_the_change_does_to_silence_is_said_first(was: int, now: int, sentence: str) -> None:
    before, after = (
        with_setting(five_categories(), "young-child", "heart-rate-high", on(limit))
        for limit in (was, now)
    )
    (found,) = effects_of(after, before)

    assert in_words_of(found).silence == sentence


def test_a_silence_that_stays_is_not_told_as_new() -> None:
    before = with_setting(five_categories(), "young-child", "heart-rate-high", on(185))
    after = with_setting(before, "young-child", "heart-rate-low", on(76))
    (found,) = effects_of(after, before)

    words = in_words_of(found)

    assert words.silence == "What of danger passes unannounced stays as it was."
    assert "181 to 185 /min at 1 y to 5 y: above 180 /min is danger" in words.before
    assert "181 to 185 /min at 1 y to 5 y: above 180 /min is danger" in words.after


def test_alarm_on_arrival_is_the_mean_over_the_ages_that_change() -> None:
    """Fleming 2011 prints 156 as the 99th centile of 12 to 18 months: 1 % lie above it there."""
    before = with_setting(
        five_categories(), "young-child", "heart-rate-low", {"state": "no-policy"}
    )
    after = with_setting(before, "young-child", "heart-rate-high", on(156))
    (found,) = effects_of(after, before)

    assert found.after.arrival is not None
    assert found.after.arrival.worst == pytest.approx(0.01, abs=1e-9)
    assert str(found.after.arrival.worst_age) == "1 y"
    assert 0 < found.after.arrival.mean < 0.01
    assert found.before.arrival is not None
    assert found.before.arrival.mean < found.after.arrival.mean


def test_shares_stand_for_the_day_of_birth_apart() -> None:
    (found,) = changed("neonate", "heart-rate-high", on(190))

    assert [str(share.ages) for share in found.after.shares][:2] == ["0 d to 1 d", "1 d to 28 d"]
    assert days(0) in found.after.shares[0].ages


def test_without_published_centiles_it_says_so() -> None:
    (found,) = changed("adult", "spo2-low", on(90))

    assert (found.after.arrival, found.source) == (None, None)
    assert in_words_of(found).arrival == UNKNOWN


def test_two_sensors_that_change_alike_are_told_once() -> None:
    (heart, breath) = effects_of(document(3), document(2))

    assert in_words_of(heart).name == "Heart rate and pulse rate"
    assert in_words_of(breath).name == "Respiratory rate and airway respiratory rate"


def test_two_sensors_with_other_limits_are_told_apart() -> None:
    before = document(2)
    after = with_setting(
        document(3),
        "young-child",
        "pulse-rate-high",
        before["settings"]["young-child"]["pulse-rate-high"] | {"limit": 172},
    )

    assert [one.vital.key for one in effects_of(after, before)][:2] == ["heart-rate", "pulse-rate"]


def test_the_telling_ages_are_those_that_change_or_are_worst() -> None:
    (heart, _) = effects_of(document(3), document(2))

    assert [str(told.age) for told in heart.telling] == ["1 y", "4 y"]
    before, after = heart.telling[0].before, heart.telling[0].after
    assert before is not None
    assert after is not None
    assert (before.high.silence, after.high.silence) == (
        "", "silent from 180 to 185: above 180 /min is danger"
    )  # fmt: skip


def test_the_picture_draws_before_behind_after() -> None:
    (heart, _) = effects_of(document(3), document(2))

    drawn = picture(heart)

    assert len(drawn.silent) == 1
    assert drawn.silent_before == ()
    assert drawn.faces != drawn.before
    ends = [point for line in drawn.shares for point in line]
    assert all(0 <= point.y <= SHARE_HEIGHT for point in ends)
    assert [point.x for point in ends] == sorted(point.x for point in ends)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0, "0%"), (-1e-12, "0%"), (0.0004, "under 0.1%"), (0.0005, "0.1%"), (0.131, "13.1%")],
)
def test_a_small_share_is_never_told_as_none(share: float, words: str) -> None:
    assert percent(share) == words
