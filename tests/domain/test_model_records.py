from dataclasses import replace
from decimal import Decimal

import pytest

from app.domain.device_models import DeviceModel, Grid, Preset
from app.domain.model_records import (
    Happening,
    ModelFacts,
    Outcome,
    disagreements,
    grid_document,
    grid_from,
)

GRID = {"heart-rate-low": Grid(Decimal(20), Decimal(250), Decimal(5))}
SIGNED = DeviceModel("dunlin", (Preset("ADULT", "adult", ("adult",)),), GRID, "kPa", Decimal(2))
FACTS = ModelFacts("Dunlin", ("ADULT",), GRID, "kPa", Decimal("2.0"))


def test_what_is_the_same_is_not_told() -> None:
    assert disagreements(FACTS, SIGNED) == ()


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        (replace(FACTS, retention_min=Decimal(3)), "for 3 min by the register, for 2 min by"),
        (replace(FACTS, retention_min=None), "for a time that nobody has tested by the register"),
        (replace(FACTS, etco2_unit="mm[Hg]"), "in mmHg by the register, in kPa by the policy"),
        (replace(FACTS, presets=("ADULT", "CHILD")), "a preset CHILD by the register"),
        (replace(FACTS, presets=("CHILD", "ADULT")), "a preset CHILD by the register"),
        (
            replace(
                FACTS, grid={"heart-rate-low": replace(GRID["heart-rate-low"], step=Decimal(1))}
            ),
            "Can be set otherwise by the register than by the policy: Heart rate",
        ),
    ],
)
def test_each_difference_is_a_sentence(facts: ModelFacts, told: str) -> None:
    (one,) = disagreements(facts, SIGNED)

    assert told in one


def test_a_preset_that_is_gone_is_told() -> None:
    told = disagreements(replace(FACTS, presets=("BIG",)), SIGNED)

    assert [("Has no preset ADULT" in one) for one in told] == [False, True]


def test_what_was_not_recorded_contradicts_nothing() -> None:
    assert disagreements(replace(FACTS, presets=(), grid={}), SIGNED) == ()


def test_what_nobody_tested_is_said_to_be_not_tested() -> None:
    facts = replace(FACTS, reverts={Happening.STANDBY: Outcome.KEEPS})

    assert facts.outcome(Happening.STANDBY) is Outcome.KEEPS
    assert facts.outcome(Happening.NEW_PATIENT) is Outcome.NOT_TESTED


def test_a_grid_comes_back_as_it_was_written() -> None:
    assert grid_from(grid_document(GRID)) == GRID
