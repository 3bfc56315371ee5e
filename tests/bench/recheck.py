"""Judging a policy again after one cell was changed."""

import json
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding
from app.domain.profiles import Profile
from app.domain.rules import check
from app.domain.rules.again import check_again
from app.domain.settings_of_alarms import On
from app.exchange.profile_json import read_profile
from tests.bench.contests import Contest, Rival
from tests.worked_profiles import five_categories

ALARMS = 30
_CHANGED = ("child", "heart-rate-high")


def contest() -> Contest:
    document = _full_document()
    raw_after = json.dumps(_with_limit(document, 185)).encode()
    profile = read_profile(json.dumps(document).encode())
    found = check(profile)
    return Contest(
        name="re-check after one change",
        size=f"{len(profile.categories)} categories × {ALARMS} alarms",
        ours=Rival("re-check", lambda: _again(profile, found)),
        others=(
            Rival("check all of it", lambda: check(_changed(profile, Decimal(185)))),
            Rival("read the file again, then check", lambda: check(read_profile(raw_after))),
            Rival("a bare look at every setting", lambda: _look(profile), answers=False),
        ),
        target="at most 10 ms in the core",
    )


def _again(profile: Profile, found: Sequence[Finding]) -> list[Finding]:
    return check_again(profile, found, _changed(profile, Decimal(185)))


def _full_document() -> dict[str, dict[str, dict[str, object]]]:
    document = five_categories()
    for settings in document["settings"].values():
        for alarm in ALARM_CONDITIONS:
            if len(settings) < ALARMS:
                settings.setdefault(alarm, {"state": "off", "reason": "bench"})
    return document


def _with_limit(document: dict[str, dict[str, dict[str, object]]], limit: int) -> dict[str, object]:
    category, alarm = _CHANGED
    settings = document["settings"]
    cell = {**settings[category][alarm], "limit": limit}  # type: ignore[dict-item]
    return {**document, "settings": {**settings, category: {**settings[category], alarm: cell}}}


def _changed(profile: Profile, limit: Decimal) -> Profile:
    category, alarm = _CHANGED
    setting = profile.settings[category][alarm]
    assert isinstance(setting, On)
    cells = {**profile.settings[category], alarm: replace(setting, limit=limit)}
    return replace(profile, settings={**profile.settings, category: cells})


def _look(profile: Profile) -> int:
    return sum(
        setting is not None
        for settings in profile.settings.values()
        for setting in settings.values()
    )
