"""A second look at what changed finds what a whole check finds."""

from copy import deepcopy
from typing import Any

import pytest

from app.domain.findings import Finding
from app.domain.profiles import Profile
from app.domain.rules import Question, again, check
from app.domain.rules.again import check_again
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

OFF = {"state": "off", "reason": "tried"}


def policy() -> dict[str, Any]:
    """With an overlay, and a model whose preset serves children with the values of infants."""
    presets = {
        "SMALL": {"carries": "infant", "serves": ["infant", "young-child"]},
        "BIG": {"carries": "adult", "serves": ["adult"]},
    }
    oxygen = {
        "key": "on-oxygen",
        "applies_to": ["neonate", "adult"],
        "settings": {"spo2-high": on(99)},
    }
    return {
        **deepcopy(five_categories()),
        "models": {"dunlin": {"presets": presets}},
        "circumstances": [oxygen],
    }


def changed(category: str, alarm: str, setting: dict[str, Any] | None) -> Profile:
    document = policy()
    document["settings"][category].pop(alarm, None)
    if setting is not None:
        document["settings"][category][alarm] = setting
    return profile_from_document(document)


@pytest.mark.parametrize(
    ("category", "alarm", "setting"),
    [
        ("infant", "heart-rate-high", on(260)),  # served to young children as well
        ("young-child", "heart-rate-high", on(185)),
        ("neonate", "spo2-low", OFF),
        ("adult", "respiratory-rate-low", None),
        ("adult", "asystole", OFF),
        ("child", "heart-rate-low", on(200)),  # above its high limit
        ("infant", "nibp-systolic-low", on(65, delay_s=45)),
    ],
)
def test_after_any_change_it_finds_what_a_whole_check_finds(
    category: str, alarm: str, setting: dict[str, Any] | None
) -> None:
    was, now = profile_from_document(policy()), changed(category, alarm, setting)
    before = check(was)

    assert check_again(was, before, now) == check(now)
    assert check_again(now, check(now), was) == before


def test_only_what_a_change_touches_is_asked_about(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def note(question: Question) -> list[Finding]:
        asked.append(question.category.key)
        return []

    monkeypatch.setattr(again, "ask", note)
    was = profile_from_document(policy())

    check_again(was, check(was), changed("infant", "heart-rate-high", on(170)))

    assert set(asked) == {"infant", "young-child"}


def shifted() -> list[dict[str, Any]]:
    """Children until 12 years instead of 13."""
    *younger, child, adult = deepcopy(five_categories())["categories"]
    return [*younger, {**child, "to": "12 y"}, {**adult, "from": "12 y"}]


@pytest.mark.parametrize(
    "more",
    [
        {"options": {"spo2-averaging-s": {"value": 40, "reason": "tried"}}},
        {"circumstances": []},
        {"models": {}},
        {"categories": shifted()},
    ],
)
def test_what_everything_is_judged_with_makes_everything_be_asked_again(
    more: dict[str, Any],
) -> None:
    was, now = profile_from_document(policy()), profile_from_document({**policy(), **more})

    assert check_again(was, check(was), now) == check(now)
    assert check(was) != check(now)
