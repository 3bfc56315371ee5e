from typing import Any

import pytest

from app.domain.agency_choices import MOST_CRITICAL, AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import Refused


def test_only_what_differs_from_common_practice_is_kept() -> None:
    choices = AgencyChoices(changeover_days=60, critical_alarms=("spo2-low",))

    assert choices.kept() == {"changeover_days": 60, "critical_alarms": ("spo2-low",)}
    assert AgencyChoices.of(choices.kept()) == choices


def test_what_a_newer_version_kept_is_left_alone() -> None:
    assert AgencyChoices.of({"unheard_of": 1}) == AgencyChoices()


def test_without_a_choice_every_alarm_is_critical() -> None:
    chosen = AgencyChoices(critical_alarms=("spo2-low",))

    assert AgencyChoices().is_critical("nibp-mean-high")
    assert chosen.is_critical("spo2-low")
    assert not chosen.is_critical("spo2-high")


@pytest.mark.parametrize(
    ("name", "value", "allowed"),
    [
        ("check_interval_days", 0, False),
        ("check_interval_days", 1, True),
        ("check_interval_days", 366, True),
        ("check_interval_days", 367, False),
        ("changeover_days", 7, True),
        ("most_changed_days", 30, True),
        ("most_changed_days", 31, False),  # after all are changed
        ("unsafe_contain_hours", 24, True),
        ("unsafe_contain_hours", 25, False),  # after it is to be verified
        ("looser_contain_hours", 169, False),
        ("whole_reading_percent", 100, True),
        ("whole_reading_percent", 101, False),
        ("critical_alarms", ("no-such-alarm",), False),
        ("critical_alarms", tuple(ALARM_CONDITIONS)[:MOST_CRITICAL], True),
    ],
)
def test_what_may_be_chosen(name: str, value: Any, allowed: bool) -> None:
    if allowed:
        assert getattr(AgencyChoices(**{name: value}), name) == value
        return

    with pytest.raises(Refused) as refused:
        AgencyChoices(**{name: value})

    assert name in {fault.column for fault in refused.value.faults}
