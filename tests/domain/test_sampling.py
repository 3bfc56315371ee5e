from fractions import Fraction

import pytest

from app.domain.errors import Refused
from app.domain.sampling import parse_share, plan_sample

CONFIDENT = Fraction(95, 100)


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("10%", Fraction(1, 10)),
        ("0.1", Fraction(1, 10)),
        (" 33.3 % ", Fraction(333, 1000)),
        ("100%", Fraction(1)),
        ("1", Fraction(1)),
        ("0", Fraction(0)),
    ],
)
def test_a_share_is_read_exactly(text: str, share: Fraction) -> None:
    assert parse_share(text, column="tolerate") == share


@pytest.mark.parametrize(
    "text", ["", "%", "ten", "-5%", "1e-1", "1/10", "0,1", "10%%", "١٠%", "nan"]
)
def test_what_is_no_share_is_refused_by_name(text: str) -> None:
    with pytest.raises(Refused, match="such as 10% or") as refused:
        parse_share(text, column="tolerate")

    assert (refused.value.faults[0].column, refused.value.faults[0].value) == ("tolerate", text)


@pytest.mark.parametrize(
    ("fleet", "tolerate", "confidence", "column"),
    [
        (0, "1/10", "19/20", "fleet"),
        (-1, "1/10", "19/20", "fleet"),
        (1_000_001, "1/10", "19/20", "fleet"),
        (40, "0", "19/20", "tolerate"),
        (40, "101/100", "19/20", "tolerate"),
        (40, "1/10", "0", "confidence"),
        (40, "1/10", "101/100", "confidence"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused_by_name(
    fleet: int, tolerate: str, confidence: str, column: str
) -> None:
    with pytest.raises(Refused) as refused:
        plan_sample(fleet, Fraction(tolerate), Fraction(confidence))

    assert str(refused.value.faults[0].column).removeprefix("--") == column


@pytest.mark.parametrize(
    ("tolerate", "sample"),
    [
        ("0.2", 8),  # two devices
        ("0.20001", 6),  # three
        ("0.29999", 6),
        ("0.3", 6),
        ("0.30001", 5),  # four
    ],
)
def test_a_share_of_a_device_is_a_whole_device(tolerate: str, sample: int) -> None:
    assert plan_sample(10, Fraction(tolerate), CONFIDENT).sample == sample


def test_the_tolerated_share_is_not_rounded_up_by_a_float() -> None:
    """100 × 0.07 is 7.000000000000001 in binary floating point: eight devices, one too many."""
    assert plan_sample(100, Fraction("0.07"), CONFIDENT).sample == 34
    assert plan_sample(100, Fraction("0.0700001"), CONFIDENT).sample == 31


@pytest.mark.parametrize(
    ("confidence", "sample"),
    [("0.94999", 94_999), ("0.95", 95_000), ("0.95001", 95_001)],
    ids=["just under", "at", "just over"],
)
def test_a_chance_of_exactly_the_doubt_is_enough(confidence: str, sample: int) -> None:
    """One of 100,000 off: reading 95,000 misses it with exactly 1 in 20."""
    plan = plan_sample(100_000, Fraction(1, 100_000), Fraction(confidence))

    assert plan.sample == sample


@pytest.mark.parametrize(("fleet", "off"), [(1, 1), (40, 4), (1000, 1000), (1_000_000, 333_334)])
def test_certainty_needs_one_more_than_all_that_are_right(fleet: int, off: int) -> None:
    plan = plan_sample(fleet, Fraction(off, fleet), Fraction(1))

    assert plan.sample == fleet - off + 1
    assert plan.miss_probability == 0


@pytest.mark.parametrize("fleet", [1, 2, 13, 40, 997, 100_000])
@pytest.mark.parametrize("share", ["1/1000", "1/20", "1/2", "1"])
def test_the_plan_is_the_fewest(fleet: int, share: str) -> None:
    plan = plan_sample(fleet, Fraction(share), CONFIDENT)

    off = -(-fleet * plan.tolerate.numerator // plan.tolerate.denominator)
    one_fewer = Fraction(1)
    for read in range(plan.sample - 1):
        one_fewer *= Fraction(fleet - off - read, fleet - read)
    assert one_fewer > 1 - CONFIDENT >= plan.miss_probability
