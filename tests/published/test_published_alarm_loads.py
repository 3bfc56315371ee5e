"""Published alarm loads: the arithmetic that their own figures allow, done again.

Each row names its study, the figures as printed and what they should give. P: read in the primary
abstract; S: cited in another paper. Only figures that can be worked out again stand here.
"""

import pytest

KIPPS = "Kipps 2017, Pediatrics 140(2):e20162458 (P, abstract)"
GOERGES = "Görges 2009, medical ICU, 200 h (P, abstract)"
BONAFIDE = "Bonafide 2017, children’s ward, 551 h of video (P, abstract)"
DREW = "Drew 2014, 461 adult ICU patients, 31 days (P, abstract)"
DEWAN = "Dewan 2019, PICU, redundant alarms (abstract)"


def change(before: float, after: float) -> float:
    return 100 * (after - before) / before


@pytest.mark.parametrize(
    ("source", "before", "after", "printed", "within"),
    [
        (KIPPS, 52, 41, -21, 0.5),  # all alarms a bed-day
        (KIPPS, 9, 7.5, -17, 0.5),  # heart rate
        (KIPPS, 16.8, 8.0, -52.4, 0.05),  # respiratory rate; the paper prints -53
        ("Sowan 2016, JMIR Hum Factors 3(2):e24 (abstract)", 87.86, 59.18, -33, 0.5),
        ("Berg 2023, children's wards (abstract)", 30.57, 25.09, -17.9, 0.05),
        ("Johnson 2018, two NICUs (abstract)", 9, 2, -78, 0.5),
    ],
)
def test_a_printed_change_follows_from_its_two_rates(
    source: str, before: float, after: float, printed: float, within: float
) -> None:
    assert change(before, after) == pytest.approx(printed, abs=within), source


@pytest.mark.parametrize(
    ("source", "part", "whole", "printed", "within"),
    [
        (GOERGES, 1214, 200, 6.07, 0.005),  # alarms over hours
        (BONAFIDE, 50, 11745, 0.0043, 0.00005),  # actionable; the abstract prints 0.5%
        (DREW, 381_560, 31 * 187, 65.8, 0.05),  # audible alarms at 187 a bed and day: 66 beds
        ("Vergales 2013, NICU (P, abstract)", 8_190_418, 747, 10_964, 1),  # alarms a day
        (DEWAN, 118, 137, 1 - 0.14, 0.005),  # of what stayed a day
    ],
)
def test_a_printed_rate_follows_from_its_counts(
    source: str, part: float, whole: float, printed: float, within: float
) -> None:
    assert part / whole == pytest.approx(printed, abs=within), source


def test_the_kinds_of_alarms_add_up_to_the_whole() -> None:
    arrhythmia, parameter, technical = 1_154_201, 612_927, 791_632

    assert arrhythmia + parameter + technical == 2_558_760, DREW
