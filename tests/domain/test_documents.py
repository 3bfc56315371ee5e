from copy import deepcopy
from decimal import Decimal

import pytest

from app.domain.documents import (
    empty_document,
    setting_in,
    with_category,
    with_limit,
    with_setting,
    without_category,
)
from app.domain.errors import NotFound, Refused
from app.domain.rules.statements import blanks
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories

OFF = {"state": "off", "reason": "tried"}


def test_a_setting_is_replaced_and_the_old_document_stays_as_it_was() -> None:
    before = five_categories()
    kept = deepcopy(before)

    after = with_setting(before, "infant", "heart-rate-low", OFF)

    assert setting_in(after, "infant", "heart-rate-low") == OFF
    assert before == kept


def test_a_setting_can_be_made_blank_again() -> None:
    after = with_setting(five_categories(), "infant", "heart-rate-low", None)

    assert setting_in(after, "infant", "heart-rate-low") is None


def test_a_category_without_any_setting_yet_takes_its_first() -> None:
    document = five_categories()
    del document["settings"]["infant"]

    after = with_setting(document, "infant", "heart-rate-low", OFF)

    assert after["settings"]["infant"] == {"heart-rate-low": OFF}


def test_a_category_that_is_not_there_is_not_found() -> None:
    with pytest.raises(NotFound):
        with_setting(five_categories(), "giant", "heart-rate-low", OFF)


def test_moving_a_limit_leaves_all_else_about_the_alarm() -> None:
    before = five_categories()

    after = with_limit(before, "infant", "heart-rate-low", Decimal(85))

    old = before["settings"]["infant"]["heart-rate-low"]
    assert after["settings"]["infant"]["heart-rate-low"] == {**old, "limit": 85}


def test_there_is_no_limit_to_move_on_an_alarm_that_is_off() -> None:
    document = with_setting(five_categories(), "infant", "heart-rate-low", OFF)

    with pytest.raises(NotFound):
        with_limit(document, "infant", "heart-rate-low", Decimal(85))


def test_an_empty_document_is_a_profile_that_says_nothing() -> None:
    profile = profile_from_document(empty_document("skerry"))

    assert [str(category.span) for category in profile.categories] == ["0 d and over"]
    assert {parts for _, _, parts in blanks(profile)} == {("setting",)}


def test_a_new_category_comes_last_and_blank() -> None:
    band = {"key": "old", "label": "Old", "from": "65 y", "to": None}

    after = with_category(five_categories(), band)

    assert after["categories"][-1] == band
    assert after["settings"]["old"] == {}


def test_a_changed_category_keeps_its_place_and_its_settings() -> None:
    before = five_categories()
    band = {"key": "infant", "label": "Baby", "from": "28 d", "to": "18 mo"}

    after = with_category(before, band)

    assert after["categories"][1] == band
    assert after["settings"] == before["settings"]


def test_a_category_goes_with_its_settings_and_out_of_circumstances() -> None:
    document = five_categories()
    document["circumstances"] = [
        {"key": "on-oxygen", "applies_to": ["infant", "adult"], "settings": {}}
    ]

    after = without_category(document, "infant")

    assert "infant" not in after["settings"]
    assert "infant" not in [category["key"] for category in after["categories"]]
    assert after["circumstances"][0]["applies_to"] == ["adult"]


def test_the_last_category_stays() -> None:
    with pytest.raises(Refused, match="at least one category"):
        without_category(empty_document("skerry"), "all-ages")
