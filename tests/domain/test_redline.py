from copy import deepcopy
from typing import Any

import pytest

from app.domain.documents import with_category, with_setting, without_category
from app.domain.outer_bounds import OuterBounds
from app.domain.redline import Change, Rank, Redline, redline
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

OFF = {"state": "off", "reason": "tried"}
DEEP = {"limit": 35, "priority": "high", "delay_s": 0}
ROOM = {"from": 40, "to": 50, "off_by": "nobody"}


def against(after: dict[str, Any], before: dict[str, Any] | None = None) -> Redline:
    return redline(profile_from_document(before or five_categories()), profile_from_document(after))


def only(alarm: str, setting: dict[str, Any] | None, *, was: dict[str, Any] | None) -> Change:
    before = with_setting(five_categories(), "adult", alarm, was)
    (change,) = against(with_setting(before, "adult", alarm, setting), before).changes
    return change


def test_the_same_policy_has_no_redline() -> None:
    same = against(five_categories())

    assert same.empty
    assert same.in_words == ""


@pytest.mark.parametrize(
    ("alarm", "was", "now", "direction", "sentence"),
    [
        ("heart-rate-low", on(45), on(44), "looser",
         "13 y and over: Heart rate can fall from 45 to 44 /min unannounced."),
        ("heart-rate-low", on(45), on(46), "tighter",
         "13 y and over: Heart rate sounds already at 46 /min instead of 45."),
        ("heart-rate-high", on(140), on(141), "looser",
         "13 y and over: Heart rate can rise from 140 to 141 /min unannounced."),
        ("apnoea", on(20), on(21), "looser",
         "13 y and over: Apnoea sounds after 21 s instead of 20."),
        ("heart-rate-low", on(45), OFF, "switched-off",
         "13 y and over: Heart rate low no longer sounds."),
        ("heart-rate-low", on(45), None, "switched-off",
         "13 y and over: Heart rate low no longer sounds."),
        ("heart-rate-low", OFF, on(45), "switched-on",
         "13 y and over: Heart rate low begins to sound below 45 /min."),
        ("etco2-high", None, on(6.5, unit="kPa"), "switched-on",
         "13 y and over: EtCO₂ high begins to sound above 6.5 kPa."),
        ("etco2-high", on(45), on(6.1, unit="kPa"), "looser",
         "13 y and over: EtCO₂ can rise from 45 mmHg to 6.1 kPa unannounced."),
        ("asystole", None, on(None), "switched-on",
         "13 y and over: Asystole begins to sound."),
        ("heart-rate-low", on(45), on(45, delay_s=1), "looser",
         "13 y and over: Heart rate low waits 1 s instead of 0 s before it sounds."),
        ("heart-rate-low", on(45), on(45, priority="high"), "tighter",
         "13 y and over: Heart rate low calls with high priority instead of medium."),
        ("heart-rate-low", on(45), on(45, priority="low"), "looser",
         "13 y and over: Heart rate low calls with low priority instead of medium."),
        ("heart-rate-low", on(45), on(45, latching=True), "tighter",
         "13 y and over: Heart rate low stays until somebody answers it."),
        ("heart-rate-low", on(45, latching=True), on(45), "looser",
         "13 y and over: Heart rate low ends by itself, answered or not."),
        ("heart-rate-low", on(45), on(45, deep=DEEP), "tighter",
         "13 y and over: Heart rate low gains a second, further line at 35 /min."),
        ("heart-rate-low", on(45, deep=DEEP), on(45), "looser",
         "13 y and over: Heart rate low has no second, further line at 35 /min any more."),
        ("heart-rate-low", on(45, deep=DEEP), on(45, deep=DEEP | {"limit": 34}), "looser",
         "13 y and over: Heart rate low: its second, further line sounds at 34 /min instead of "
         "35 /min."),
        ("heart-rate-low", on(45, deep=DEEP), on(45, deep=DEEP | {"delay_s": 5}), "looser",
         "13 y and over: Heart rate low, deep line, waits 5 s instead of 0 s before it sounds."),
        ("heart-rate-low", on(45), on(45, latitude=ROOM), "looser",
         "13 y and over: Heart rate low may be moved for one patient, 40 /min to 50 /min."),
        ("heart-rate-low", on(45, latitude=ROOM), on(45, latitude=ROOM | {"from": 41}), "tighter",
         "13 y and over: Heart rate low may be moved for one patient, 41 /min to 50 /min instead "
         "of 40 /min to 50 /min."),
        ("heart-rate-low", on(45, latitude=ROOM), on(45, latitude=ROOM | {"to": 55}), "other",
         "13 y and over: Heart rate low may be moved for one patient, 40 /min to 55 /min instead "
         "of 40 /min to 50 /min."),
        ("heart-rate-low", on(45, latitude=ROOM), on(45, latitude=ROOM | {"off_by": "crew"}),
         "looser", "13 y and over: Heart rate low may be switched off by crew instead of nobody."),
        ("heart-rate-low", OFF, {"state": "no-policy"}, "other",
         "13 y and over: Heart rate low stays without a sound: no policy instead of off."),
    ],
)  # fmt: skip
def test_a_change_says_what_it_means(
    alarm: str,
    was: dict[str, Any] | None,
    now: dict[str, Any] | None,
    direction: str,
    sentence: str,
) -> None:
    change = only(alarm, now, was=was)

    assert (change.direction, change.sentence) == (direction, sentence)
    assert not change.words_only


@pytest.mark.parametrize(
    ("alarm", "was", "now"),
    [
        ("heart-rate-low", on(45), on(45, reason="read again")),
        ("heart-rate-low", on(45), on(45, source="another book")),
        ("heart-rate-low", OFF, OFF | {"reason": "as before"}),
        ("etco2-high", on(45), on(6, unit="kPa")),
        ("etco2-high", on(6, unit="kPa"), on(45)),
        ("temperature-high", on(38), on(100.4, unit="[degF]")),
    ],
)
def test_another_reason_source_or_unit_is_a_matter_of_words(
    alarm: str, was: dict[str, Any], now: dict[str, Any]
) -> None:
    change = only(alarm, now, was=was)

    assert change.rank is Rank.WORDS
    assert change.parts == ()


def test_every_part_that_changes_is_told_and_the_looser_one_speaks() -> None:
    change = only("heart-rate-low", on(50, delay_s=10), was=on(45))

    assert change.sentence.endswith("waits 10 s instead of 0 s before it sounds.")
    assert [(str(part), part.lean) for part in change.parts] == [
        ("delay: 0 s → 10 s", "looser"),
        ("limit: 45 /min → 50 /min", "tighter"),
    ]


@pytest.mark.parametrize(("limit", "silent"), [(180, False), (181, True)])
def test_a_limit_beyond_the_outer_bound_opens_a_silence_and_comes_first(
    limit: int, silent: bool
) -> None:
    after = with_setting(five_categories(), "adult", "heart-rate-low", on(40))
    after = with_setting(after, "young-child", "heart-rate-high", on(limit))

    changes = {change.alarm and change.alarm.key: change for change in against(after).changes}

    found = changes["heart-rate-high"]
    assert (found.rank is Rank.OPENS) == silent
    assert found.silent == (("181 /min at 1 y to 5 y: above 180 /min is danger",) if silent else ())
    assert not silent or next(iter(changes)) == "heart-rate-high"


def test_a_silence_that_another_sensor_keeps_closed_is_none() -> None:
    before = with_setting(five_categories(), "young-child", "pulse-rate-high", on(180))

    found = against(with_setting(before, "young-child", "heart-rate-high", on(200)), before)

    assert [change.rank for change in found.changes] == [Rank.LOOSER]


@pytest.mark.parametrize(
    ("now", "rank"), [(OFF, Rank.OPENS), (on(None, priority="medium"), Rank.OPENS)]
)
def test_an_arrest_that_may_pass_unheard_comes_first(now: dict[str, Any], rank: Rank) -> None:
    change = only("asystole", now, was=on(None, priority="high"))

    assert (change.rank, change.silent) == (rank, ("an arrest",))


@pytest.mark.parametrize("alarm", ["heart-rate-high", "asystole"])
def test_what_was_on_and_is_left_blank_is_silent_too(alarm: str) -> None:
    before = with_setting(five_categories(), "adult", "asystole", on(None, priority="high"))
    before = with_setting(before, "young-child", "asystole", on(None, priority="high"))

    (change,) = against(with_setting(before, "young-child", alarm, None), before).changes

    assert change.rank is Rank.OPENS
    assert change.direction == "switched-off"


def test_other_outer_bounds_judge_otherwise() -> None:
    before, after = (
        profile_from_document(
            with_setting(five_categories(), "young-child", "heart-rate-high", on(limit))
        )
        for limit in (170, 185)
    )

    assert redline(before, after, OuterBounds("none", ())).changes[0].rank is Rank.LOOSER


def test_the_gravest_comes_first_and_words_come_last() -> None:
    after = deepcopy(five_categories())
    after["settings"]["neonate"]["heart-rate-low"]["reason"] = "read again"
    after["settings"]["infant"]["heart-rate-low"]["limit"] = 95
    after["settings"]["infant"]["respiratory-rate-high"] = OFF
    after["settings"]["adult"]["apnoea"] = on(20)
    after["settings"]["adult"]["heart-rate-low"]["limit"] = 44
    after["settings"]["young-child"]["heart-rate-high"]["limit"] = 185

    found = against(after)

    ranks = [change.rank for change in found.changes]
    assert ranks == sorted(ranks, key=list(Rank).index)
    assert found.in_words == (
        "2 open a silence · 1 looser · 1 switched on · 1 tighter · 1 words only"
    )
    assert Rank.WORDS not in {change.rank for change in found.gravest}


# Categories


def test_neighbouring_ages_that_mean_the_same_are_told_once() -> None:
    after, before = deepcopy(five_categories()), deepcopy(five_categories())
    for key in ("infant", "young-child"):
        before["settings"][key]["heart-rate-high"] = on(170, reason=f"as {key}")
        after["settings"][key]["heart-rate-high"] = on(175, reason=f"for {key}")

    (change,) = against(after, before).changes

    assert change.sentence.startswith("28 d to 5 y: ")


def test_a_split_category_that_keeps_its_limits_changes_hands_and_nothing_else() -> None:
    after = with_category(
        five_categories(), {"key": "adult", "label": "Adult", "from": "13 y", "to": "65 y"}
    )
    after = with_category(after, {"key": "old", "label": "Old", "from": "65 y", "to": None})
    after["settings"]["old"] = after["settings"]["adult"]

    found = against(after)

    assert found.changes == ()
    assert [
        (str(hand.ages), hand.before and hand.before.key, hand.after and hand.after.key)
        for hand in found.hands
    ] == [("65 y and over", "adult", "old")]


def test_a_moved_edge_changes_the_limits_of_the_ages_between_alone() -> None:
    after = with_category(
        five_categories(), {"key": "neonate", "label": "Neonate", "from": "0 d", "to": "1 mo"}
    )
    after = with_category(after, {"key": "infant", "label": "Infant", "from": "1 mo", "to": "1 y"})

    found = against(after)

    assert {str(change.ages) for change in found.changes} == {"28 d to 1 mo"}
    assert "28 d to 1 mo: Heart rate can rise from 180 to 200 /min unannounced." in {
        change.sentence for change in found.changes
    }


def test_ages_that_no_category_holds_any_more_lose_every_alarm() -> None:
    found = against(without_category(five_categories(), "neonate"))

    assert {change.direction for change in found.changes} == {"switched-off"}
    assert {str(change.ages) for change in found.changes} == {"0 d to 28 d"}
    assert [(str(hand.ages), hand.after) for hand in found.hands] == [("0 d to 28 d", None)]


def test_another_label_is_told_as_one() -> None:
    after = with_category(
        five_categories(), {"key": "infant", "label": "Baby", "from": "28 d", "to": "1 y"}
    )

    found = against(after)

    assert (found.relabelled, found.hands, found.changes) == ((("Infant", "Baby"),), (), ())
