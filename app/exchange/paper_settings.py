"""What a policy says of every alarm, as tables of a paper."""

from collections.abc import Iterator
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, limits_of
from app.domain.profiles import Circumstance, Option, Profile
from app.domain.settings_of_alarms import NoPolicy, On, Setting, show_number
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange import paper_words as words
from app.exchange.paper_waivers import Waived

Data = dict[str, Any]


class Notes:
    """Reasons and sources, each pair once, by the number under which the tables name it."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, str], int] = {}

    def number_of(self, stated: Setting | Option | None) -> str:
        """Empty where nothing was given."""
        pair = (stated.reason, stated.source) if stated is not None else ("", "")
        if not any(pair):
            return ""
        return str(self._numbers.setdefault(pair, len(self._numbers) + 1))

    def listed(self) -> list[Data]:
        return [
            {"number": str(number), "reason": reason, "source": source}
            for (reason, source), number in self._numbers.items()
        ]


def glance(profile: Profile, waived: Waived) -> Data:
    """Limits alone: a row a vital sign or event, a column a category."""
    spoken = {key for one in profile.settings.values() for key, said in one.items() if _says(said)}
    events = [one for one in ALARM_CONDITIONS.values() if one.vital_sign is None]
    rows: list[tuple[str, str, tuple[AlarmCondition, ...]]] = [
        (vital.label, vital.shown, limits_of(vital.key)) for vital in VITAL_SIGNS.values()
    ]
    rows += [(event.label, event.shown, (event,)) for event in events]
    return {
        "columns": [one.label for one in profile.categories],
        "rows": [
            {"label": label, "unit": unit, "cells": _across(profile, alarms, waived)}
            for label, unit, alarms in rows
            if spoken.intersection(alarm.key for alarm in alarms)
        ],
    }


def _says(setting: Setting) -> bool:
    return not isinstance(setting, NoPolicy)


def _across(
    profile: Profile, alarms: tuple[AlarmCondition, ...], waived: Waived
) -> list[list[Data]]:
    """A cell a category, with a part for each alarm: low and high, or the event alone."""
    return [
        [
            {
                "says": _short(profile.of_category(one.key).get(alarm.key), alarm),
                "waived": waived.at([one.key], alarm.key),
            }
            for alarm in alarms
        ]
        for one in profile.categories
    ]


def _short(setting: Setting | None, alarm: AlarmCondition) -> str:
    if isinstance(setting, NoPolicy):
        return "·"
    if not isinstance(setting, On):
        return words.state(setting)
    if setting.limit is None:
        return "on"
    other = "" if setting.unit in (None, alarm.unit) else f" {words.unit(setting.unit, alarm)}"
    return show_number(setting.limit) + other


def by_category(profile: Profile, notes: Notes, waived: Waived) -> list[Data]:
    return [
        {
            "label": one.label,
            "ages": str(one.span),
            **_table(
                [
                    (alarm, settings.get(key), waived.at([one.key], key))
                    for key, alarm in ALARM_CONDITIONS.items()
                ],
                notes,
            ),
        }
        for one in profile.categories
        for settings in [profile.of_category(one.key)]
    ]


def by_circumstance(profile: Profile, notes: Notes, waived: Waived) -> list[Data]:
    """Only the alarms that it names."""
    return [
        {
            "label": one.label,
            "ages": ", ".join(_labels(profile, one)),
            **_table(
                [
                    (alarm, one.settings[key], waived.at(one.applies_to, key, one.key))
                    for key, alarm in ALARM_CONDITIONS.items()
                    if key in one.settings
                ],
                notes,
            ),
        }
        for one in profile.circumstances
    ]


def _labels(profile: Profile, circumstance: Circumstance) -> Iterator[str]:
    for key in circumstance.applies_to:
        found = profile.category(key)
        yield key if found is None else found.label


def _table(said: list[tuple[AlarmCondition, Setting | None, str]], notes: Notes) -> Data:
    """Rows of what is said; alarms without policy and blanks are only named."""
    return {
        "rows": [
            _row(alarm, setting, waived, notes)
            for alarm, setting, waived in said
            if setting is not None and _says(setting)
        ],
        "no_policy": [
            _named(alarm, setting, notes)
            for alarm, setting, _ in said
            if isinstance(setting, NoPolicy)
        ],
        "blank": [alarm.label for alarm, setting, _ in said if setting is None],
    }


def _named(alarm: AlarmCondition, setting: NoPolicy, notes: Notes) -> str:
    number = notes.number_of(setting)
    return f"{alarm.label} (note {number})" if number else alarm.label


def _row(alarm: AlarmCondition, setting: Setting, waived: str, notes: Notes) -> Data:
    row = {"alarm": alarm.label, "waived": waived, "note": notes.number_of(setting)}
    given = getattr(setting, "latitude", None)
    if not isinstance(setting, On):
        latitude = "" if given is None else words.latitude(given)
        return row | {"on": False, "says": words.state(setting), "latitude": latitude}
    return row | {
        "on": True,
        "says": words.limit(setting, alarm),
        "priority": words.BLANK if setting.priority is None else setting.priority.value,
        "delay": words.delay(setting.delay_s),
        "latching": words.latching(setting.latching),
        "deep": words.deep_line(setting, alarm),
        "latitude": words.latitude(given),
    }
