"""Whatever the policies are: a redline against itself is empty, turned round it leans the other
way, and it names exactly the ages at which a comparison day by day finds another setting."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.ages import BIRTH, Age, AgeSpan, days, years
from app.domain.comparison import Direction
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.profiles import Circumstance, Option, Profile
from app.domain.redline import redline
from app.domain.redline_ages import View, changed_ages, pieces_of
from app.domain.settings_of_alarms import (
    DeepLine,
    Latitude,
    NoPolicy,
    NotFitted,
    Off,
    On,
    Priority,
    Setting,
)

EDGES = (days(1), days(28), days(30), years(1), years(5), years(8), years(13), years(18))
DAYS = (0, 1, 27, 28, 29, 30, 31, 364, 365, 366, 1826, 1827, 2922, 4748, 4749, 6574, 6575, 30_000)
ALARMS = ("heart-rate-high", "spo2-low", "etco2-low", "asystole", "apnoea")
TURNED = {
    Direction.LOOSER: Direction.TIGHTER,
    Direction.TIGHTER: Direction.LOOSER,
    Direction.OTHER: Direction.OTHER,
}

numbers = st.sampled_from([Decimal(number) for number in (40, 45, 46, 90, 180, 181)])
rooms = st.none() | st.builds(
    Latitude,
    st.none() | numbers,
    st.none() | numbers,
    st.sampled_from(["nobody", "crew", "medical-control"]),
)
seconds = st.sampled_from([None, Decimal(0), Decimal(10)])
priorities = st.sampled_from([None, *Priority])
deep_lines = st.none() | st.builds(DeepLine, numbers, priorities, seconds)
reasons = st.sampled_from(["", "agreed"])
ons = st.builds(
    On,
    st.none() | numbers,
    priorities,
    seconds,
    st.sampled_from([None, True, False]),
    deep_lines,
    rooms,
    reason=reasons,
)
others = st.one_of(
    st.builds(Off, reasons, latitude=rooms), st.builds(NotFitted), st.builds(NoPolicy)
)
one_alarm: st.SearchStrategy[Setting] = ons | others


@st.composite
def profiles(draw: st.DrawFn) -> Profile:
    cuts = [BIRTH, *sorted(draw(st.sets(st.sampled_from(EDGES), max_size=4)))]
    ends: Sequence[Age | None] = [*cuts[1:], None]
    keys = draw(st.permutations(["a", "b", "c", "d", "e"]))
    categories = tuple(
        PatientCategory(key, key, AgeSpan(start, end))
        for key, start, end in zip(keys, cuts, ends, strict=False)
    )
    stated = st.dictionaries(st.sampled_from(ALARMS), one_alarm)
    held = {category.key: draw(stated) for category in categories}
    chosen = Circumstance(
        "paced", "Paced", tuple(draw(st.sets(st.sampled_from(keys)))), draw(stated)
    )
    options = draw(
        st.dictionaries(
            st.sampled_from(["longest-pause-s", "audio-volume"]), st.builds(Option, numbers)
        )
    )
    return Profile("", "", 1, categories, held, (chosen,), options)


@given(profiles())
@settings(max_examples=60, deadline=None)
def test_a_redline_of_a_policy_with_itself_is_empty(profile: Profile) -> None:
    assert redline(profile, profile).empty


@given(profiles(), profiles())
@settings(max_examples=100, deadline=None)
def test_turned_round_every_part_leans_the_other_way(one: Profile, other: Profile) -> None:
    there, back = redline(one, other), redline(other, one)

    leans = {
        (change.circumstance, change.alarm, change.option, str(change.ages)): sorted(
            (part.label, TURNED[part.lean]) for part in change.parts
        )
        for change in there.changes
    }
    assert leans == {
        (change.circumstance, change.alarm, change.option, str(change.ages)): sorted(
            (part.label, part.lean) for part in change.parts
        )
        for change in back.changes
    }


@given(profiles(), profiles())
@settings(max_examples=100, deadline=None)
def test_the_ages_named_are_those_that_differ_day_by_day(one: Profile, other: Profile) -> None:
    found = list(changed_ages(pieces_of(one, other), View(one), View(other)))

    for number in DAYS:
        age = days(number)
        for key in ALARMS:
            was, now = (setting_at(profile, age, key) for profile in (one, other))
            named = [c for c in found if c.alarm.key == key and age in c.ages]
            assert len(named) == (was != now)
            assert all((without_words(c.before), without_words(c.after))
                       == (without_words(was), without_words(now)) for c in named)  # fmt: skip


def setting_at(profile: Profile, age: Age, alarm: str) -> Setting | None:
    category = category_at(profile.categories, age)
    return None if category is None else profile.of_category(category.key).get(alarm)


def without_words(setting: Setting | None) -> Setting | None:
    return setting and replace(setting, reason="", source="")
