"""What a change opens is what is silent now and was not, asked day by day."""

from fractions import Fraction

import pytest
from hypothesis import given, settings

from app.domain.ages import Age, AgeSpan, days
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.patient_categories import category_at
from app.domain.profiles import Profile
from app.domain.redline_ages import View, pieces_of
from app.domain.redline_silence import dangers, opened
from app.domain.silence import Silence, silences
from tests.domain.test_redline_ages import DAYS, profiles

HIGH, LOW = ALARM_CONDITIONS["heart-rate-high"], ALARM_CONDITIONS["spo2-low"]
AN_HOUR = Fraction(1, 24)


@pytest.mark.parametrize("alarm", [HIGH, LOW])
@given(one=profiles(), other=profiles())
@settings(max_examples=40, deadline=None)
def test_what_opens_is_silent_now_and_was_not(
    alarm: AlarmCondition, one: Profile, other: Profile
) -> None:
    before, after = View(one), View(other)
    found = opened(alarm, pieces_of(one, other), before, after, DEFAULT_BOUNDS)

    for number in DAYS:
        age = days(number)
        was, now = (silent_at(view, alarm, age) for view in (before, after))
        assert any(age in gap.ages for gap in found) == (reach(now) > reach(was))


def silent_at(view: View, alarm: AlarmCondition, age: Age) -> list[Silence]:
    category = category_at(view.profile.categories, age)
    watch = view.watch(category, DEFAULT_BOUNDS)
    moment = AgeSpan(age, Age(age.days + AN_HOUR))
    group = (alarm.quantity,) if alarm is LOW else ("heart-rate", "pulse-rate")
    return dangers(silences(watch, group, alarm.side, moment))


def reach(found: list[Silence]) -> float:
    """How far values pass unannounced, from none to endless."""
    return max((gap.width + 1 for gap in found), default=0.0)
