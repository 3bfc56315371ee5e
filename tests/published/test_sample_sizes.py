"""Zero-defect sample sizes: a computed table, and SciPy's hypergeometric distribution."""

from fractions import Fraction
from math import ceil

import pytest
from scipy.stats import hypergeom

from app.domain.sampling import plan_sample

CONFIDENT = Fraction(95, 100)

# Fleet: fewest devices for 20 %, 10 % and 5 % of it, none found off, at 95 % confidence.
COMPUTED = {10: (8, 10, 10), 40: (12, 21, 31), 100: (13, 25, 45), 500: (14, 28, 56)}


@pytest.mark.parametrize(
    ("fleet", "share", "sample"),
    [
        (fleet, share, sample)
        for fleet, samples in COMPUTED.items()
        for share, sample in zip((20, 10, 5), samples, strict=True)
    ],
)
def test_the_table(fleet: int, share: int, sample: int) -> None:
    assert plan_sample(fleet, Fraction(share, 100), CONFIDENT).sample == sample


def test_the_worked_example() -> None:
    """40 devices, 4 off: 21 read miss them with C(36,21)/C(40,21) = 0.0424, 20 with 0.0530."""
    plan = plan_sample(40, Fraction(1, 10), CONFIDENT)

    assert plan.sample == 21
    assert float(plan.miss_probability) == pytest.approx(0.0424, abs=5e-5)
    assert hypergeom(40, 4, 20).pmf(0) == pytest.approx(0.0530, abs=5e-5)


@pytest.mark.parametrize("fleet", [1, 2, 7, 12, 13, 31, 46, 250])
@pytest.mark.parametrize("share", [Fraction(1, 20), Fraction(1, 8), Fraction(1, 2), Fraction(1)])
def test_scipy_agrees_and_one_device_fewer_is_not_enough(fleet: int, share: Fraction) -> None:
    plan = plan_sample(fleet, share, CONFIDENT)
    off = ceil(fleet * share)

    assert float(plan.miss_probability) == pytest.approx(hypergeom(fleet, off, plan.sample).pmf(0))
    assert plan.miss_probability <= Fraction(5, 100)
    if plan.sample:
        assert hypergeom(fleet, off, plan.sample - 1).pmf(0) > 0.05
