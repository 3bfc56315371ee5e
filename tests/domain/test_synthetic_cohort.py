from itertools import pairwise

import numpy as np
import pytest

from app.domain.ages import AgeSpan, days, years
from app.domain.centiles import References
from app.domain.errors import Refused
from app.domain.reference_ranges import PUBLISHED, fleming_2011
from app.domain.synthetic_cohort import Assumed, synthetic_cohort

YOUNG = AgeSpan(years(1), years(5))
BAND = AgeSpan(years(2), years(3))
MANY = Assumed(patients=200, hours=1, step_s=60, memory_s=60)


def test_single_values_lie_where_the_centiles_say() -> None:
    """One printed band, so that one row must be met; minutes apart, so that they vary enough."""
    heart = synthetic_cohort(BAND, PUBLISHED, MANY).trends.values["heart-rate"]

    row = fleming_2011.TABLE.at("heart-rate", years(2))
    assert row is not None
    for centile, value in zip(row.centiles, row.values, strict=True):
        below = float((heart < value).mean() + (heart <= value).mean()) / 2
        assert below == pytest.approx(centile / 100, abs=0.05)


def test_neighbouring_samples_are_correlated_as_stated() -> None:
    """b + (1 - b) · exp(-s / T) between two samples of one patient, and b far apart."""
    assumed = Assumed(patients=200, hours=1, between=0.4, memory_s=120, step_s=30)
    cohort = synthetic_cohort(BAND, PUBLISHED, assumed).trends
    table = cohort.values["heart-rate"].reshape(200, -1)
    middle = table - table.mean()

    def together(lag: int) -> float:
        return float((middle[:, lag:] * middle[:, : middle.shape[1] - lag]).mean()) / float(
            (middle**2).mean()
        )

    assert together(1) == pytest.approx(0.4 + 0.6 * np.exp(-30 / 120), abs=0.08)
    assert together(60) == pytest.approx(0.4, abs=0.12)
    assert all(longer < shorter for shorter, longer in pairwise(map(together, (1, 2, 4, 8))))


def test_values_lie_on_the_step_and_every_patient_has_its_hours() -> None:
    cohort = synthetic_cohort(YOUNG, PUBLISHED, Assumed(patients=3, hours=2, step_s=10)).trends

    assert cohort.patients == 3
    assert cohort.hours == pytest.approx(6)
    assert set(cohort.values) == {"heart-rate", "respiratory-rate"}
    for values in cohort.values.values():
        assert (values == np.rint(values)).all()


def test_it_says_loudly_what_it_is_and_what_was_assumed() -> None:
    words = synthetic_cohort(AgeSpan(years(13), None), PUBLISHED, Assumed(patients=2)).words

    assert words.startswith("SYNTHETIC: 2 invented patients of 1 h, aged 13 y to 18 y")
    assert "Assumed: 50% of the variance lies between patients" in words
    assert "1/e in 300 s" in words
    assert "Seed 20260302" in words


def test_the_seed_is_all_the_chance_there_is() -> None:
    same, again, other = (
        synthetic_cohort(YOUNG, PUBLISHED, Assumed(patients=2, step_s=60, seed=seed)).trends
        for seed in (1, 1, 2)
    )

    assert (same.values["heart-rate"] == again.values["heart-rate"]).all()
    assert (same.values["heart-rate"] != other.values["heart-rate"]).any()


@pytest.mark.parametrize(
    ("ages", "assumed", "column"),
    [
        (AgeSpan(years(18), None), Assumed(), "category"),
        (YOUNG, Assumed(patients=1), "patients"),
        (YOUNG, Assumed(patients=201), "patients"),
        (YOUNG, Assumed(hours=0), "hours"),
        (YOUNG, Assumed(hours=25), "hours"),
    ],
)
def test_what_cannot_be_drawn_is_refused(ages: AgeSpan, assumed: Assumed, column: str) -> None:
    with pytest.raises(Refused) as refused:
        synthetic_cohort(ages, PUBLISHED, assumed)

    assert [fault.column for fault in refused.value.faults] == [column]


def test_without_published_centiles_there_is_no_cohort() -> None:
    with pytest.raises(Refused):
        synthetic_cohort(AgeSpan(days(0), years(1)), References(()), Assumed())
