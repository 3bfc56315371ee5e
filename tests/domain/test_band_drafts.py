from decimal import Decimal
from typing import Any

from app.domain.ages import AgeSpan, months, years
from app.domain.band_advice import Band
from app.domain.band_drafts import cuts, with_bands
from app.domain.patient_categories import prove_scheme
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

HEART = VITAL_SIGNS["heart-rate"]
LOW, HIGH = "heart-rate-low", "heart-rate-high"


def band(start: int, end: int, low: int | None, high: int | None) -> Band:
    ages = AgeSpan(months(start), months(end))
    return Band(ages, *(None if one is None else Decimal(one) for one in (low, high)))


def taken(*bands: Band, **more: Any) -> dict[str, Any]:
    return dict(with_bands({**five_categories(), **more}, HEART, bands))


def test_categories_are_cut_at_the_edges_and_nowhere_else() -> None:
    after = taken(band(12, 36, 70, 170))

    assert [(one["key"], one["from"], one["to"]) for one in after["categories"]] == [
        ("neonate", "0 d", "28 d"),
        ("infant", "28 d", "1 y"),
        ("young-child", "1 y", "3 y"),
        ("young-child-from-3-y", "3 y", "5 y"),
        ("child", "5 y", "13 y"),
        ("adult", "13 y", None),
    ]
    assert prove_scheme(profile_from_document(after).categories) == []


def test_only_what_was_confirmed_changes() -> None:
    before = five_categories()

    after = taken(band(12, 36, 70, 170))

    changed = {
        (category, alarm)
        for category, settings in after["settings"].items()
        for alarm, setting in settings.items()
        if setting != before["settings"].get(category, {}).get(alarm)
    }
    whole = {("young-child-from-3-y", alarm) for alarm in before["settings"]["young-child"]}
    assert changed == {("young-child", LOW)} | whole
    older = after["settings"]["young-child-from-3-y"]
    assert older == before["settings"]["young-child"]
    assert before == five_categories()


def test_a_new_limit_has_no_reason_and_no_source_until_they_are_written() -> None:
    setting = taken(band(12, 60, 70, 170))["settings"]["young-child"]

    assert setting[LOW] == {
        "state": "on",
        "limit": 70,
        "priority": "medium",
        "delay_s": 0,
        "latching": False,
    }
    assert setting[HIGH] == on(170)  # it stood there already


def test_an_alarm_that_was_not_on_is_left_to_be_filled() -> None:
    document = five_categories()
    document["settings"]["child"][LOW] = {"state": "off", "reason": "seldom needed"}
    del document["settings"]["child"][HIGH]

    child = with_bands(document, HEART, [band(60, 156, 55, 150)])["settings"]["child"]

    assert (child[LOW], child[HIGH]) == (
        {"state": "on", "limit": 55},
        {"state": "on", "limit": 150},
    )


def test_the_last_edge_cuts_the_adults_and_leaves_them_as_they_are() -> None:
    after = taken(band(156, 216, 50, 130))

    assert [one["key"] for one in after["categories"]][-2:] == ["adult", "adult-from-18-y"]
    assert after["settings"]["adult"][LOW]["limit"] == 50
    assert after["settings"]["adult-from-18-y"][LOW] == on(45)


def test_a_side_without_advice_is_not_touched() -> None:
    after = taken(band(12, 60, 70, None))

    assert after["settings"]["young-child"][HIGH] == on(170)


def test_a_preset_serves_both_parts_of_what_is_cut() -> None:
    presets = {"CHILD": {"carries": "young-child", "serves": ["young-child", "child"]}}

    after = taken(band(12, 36, 70, 170), models={"dunlin": {"presets": presets}})

    served = after["models"]["dunlin"]["presets"]["CHILD"]["serves"]
    assert served == ["young-child", "young-child-from-3-y", "child"]


def test_a_key_that_is_taken_gets_a_number() -> None:
    document = five_categories()
    document["categories"][3]["key"] = "young-child-from-3-y"
    document["settings"]["young-child-from-3-y"] = document["settings"].pop("child")

    after = with_bands(document, HEART, [band(12, 36, 70, 170)])

    assert [one["key"] for one in after["categories"]][3] == "young-child-from-3-y-2"


def test_what_would_be_cut_is_told_beforehand() -> None:
    found = cuts(five_categories(), [band(0, 12, 80, 180), band(12, 36, 70, 170)])

    assert [(cut.category, cut.at) for cut in found] == [("young-child", years(3))]
