from typing import Any

import pytest

from app.domain.ages import Age, AgeSpan
from app.domain.preset_proof import PresetProof, example, parts, preset_proof
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories

ALL = ["neonate", "infant", "young-child", "child", "adult"]


def proof(**presets: list[str]) -> PresetProof:
    """Each preset carries the first category that it serves."""
    held = {name: {"carries": keys[0], "serves": keys} for name, keys in presets.items()}
    return proof_of({"presets": held})


def proof_of(model: dict[str, Any]) -> PresetProof:
    profile = profile_from_document({**five_categories(), "models": {"dunlin": model}})
    return preset_proof(profile, profile.models["dunlin"])


def span(start: str, end: str | None) -> AgeSpan:
    return AgeSpan(Age.parse(start), Age.parse(end) if end else None)


def test_every_category_served_once_holds() -> None:
    found = proof(SMALL=ALL[:3], LARGE=ALL[3:])

    assert found.holds
    assert [one.presets for one in found.served] == [("SMALL",)] * 3 + [("LARGE",)] * 2


def test_a_category_without_a_preset_is_told_by_a_patient() -> None:
    found = proof(SMALL=ALL[:2], LARGE=ALL[3:])

    (fault,) = found.faults
    assert fault.words == "A 3-year-old on a dunlin has no preset (Young-child, 1 y to 5 y)."


def test_a_category_with_two_presets_is_told() -> None:
    found = proof(SMALL=ALL[:3], LARGE=ALL[2:])

    (fault,) = found.faults
    assert fault.words == (
        "A 3-year-old on a dunlin has 2 presets, SMALL and LARGE: which one holds?"
    )


def test_a_model_without_presets_has_one_a_category() -> None:
    found = proof_of({})

    assert found.holds
    assert found.remarks == ("dunlin has no presets of its own.",)


def test_ages_that_do_not_touch_are_told() -> None:
    found = proof(ENDS=["infant", "adult"], REST=["neonate", "young-child", "child"])

    told = [said.split(".")[0] for said in found.remarks]
    assert told == [
        "ENDS serves ages that do not touch: 28 d to 1 y and 13 y and over",
        "REST serves ages that do not touch: 0 d to 28 d and 1 y to 13 y",
    ]


def test_a_preset_that_does_not_serve_what_it_carries_is_told() -> None:
    found = proof_of({"presets": {"ALL": {"carries": "neonate", "serves": ALL[1:]}}})

    assert found.remarks == ("ALL carries the values of Neonate but does not serve it.",)


@pytest.mark.parametrize(
    ("spans", "joined"),
    [
        ([("0 d", "28 d"), ("28 d", "1 y")], ["0 d to 1 y"]),
        ([("0 d", "27 d"), ("28 d", "1 y")], ["0 d to 27 d", "28 d to 1 y"]),
        ([("1 y", None), ("0 d", "1 y")], ["0 d and over"]),
        ([("0 d", "9 y"), ("1 y", "2 y"), ("8 y", None)], ["0 d and over"]),
        ([("0 d", None), ("1 y", "2 y")], ["0 d and over"]),
        ([], []),
    ],
)
def test_spans_are_joined_where_they_touch(
    spans: list[tuple[str, str | None]], joined: list[str]
) -> None:
    assert [str(part) for part in parts([span(*ends) for ends in spans])] == joined


@pytest.mark.parametrize(
    ("ages", "words"),
    [
        (("0 d", "28 d"), "A 14-day-old"),
        (("28 d", "1 y"), "A 6-month-old"),
        (("1 y", "5 y"), "A 3-year-old"),
        (("5 y", "12 y"), "An 8-year-old"),
        (("16 y", None), "An 18-year-old"),
        (("65 y", None), "A 65-year-old"),
        (("1 mo", "2 mo"), "A 45-day-old"),
        (("80 y", "90 y"), "An 85-year-old"),
    ],
)
def test_an_example_lies_within_its_ages(ages: tuple[str, str | None], words: str) -> None:
    assert example(span(*ages)) == words
