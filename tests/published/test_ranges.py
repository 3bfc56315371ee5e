"""Published ranges, every printed cell typed a second time.

PALS 2015 (two secondary copies), Flynn 2017 Table 6 (primary, doi:10.1542/peds.2017-1904),
Gemelli 1990 (a secondary copy, doi:10.1007/BF02171556), NRP 2015 saturation by minute (two
copies), NIH consensus 1986 on apnoea, DeVita 2004 and Bellomo 2003 calling criteria.
"""

from decimal import Decimal

import pytest

from app.domain.ages import years
from app.domain.reference_ranges import (
    apnoea,
    flynn_2017,
    gemelli_1990,
    met_criteria,
    newborn_spo2,
    pals_2015,
)

# Vital sign, group, low, high, low asleep, high asleep.
PALS = """
heart-rate | Neonate <28 d | 100 | 205 | 90 | 160
heart-rate | Infant 1-12 mo | 100 | 190 | 90 | 160
heart-rate | Toddler 1-2 y | 98 | 140 | 80 | 120
heart-rate | Preschool 3-5 y | 80 | 120 | 65 | 100
heart-rate | School 6-11 y | 75 | 118 | 58 | 90
heart-rate | Adolescent 12-15 y | 60 | 100 | 50 | 90
respiratory-rate | Infant <1 y | 30 | 53 |  |
respiratory-rate | Toddler 1-2 y | 22 | 37 |  |
respiratory-rate | Preschool 3-5 y | 20 | 28 |  |
respiratory-rate | School 6-11 y | 18 | 25 |  |
respiratory-rate | Adolescent 12-15 y | 12 | 20 |  |
nibp-systolic | Birth 12 h 3 kg | 60 | 76 |  |
nibp-systolic | Neonate 96 h | 67 | 84 |  |
nibp-systolic | Infant 1-12 mo | 72 | 104 |  |
nibp-systolic | Toddler 1-2 y | 86 | 106 |  |
nibp-systolic | Preschool 3-5 y | 89 | 112 |  |
nibp-systolic | School 6-9 y | 97 | 115 |  |
nibp-systolic | Preadolescent 10-11 y | 102 | 120 |  |
nibp-systolic | Adolescent 12-15 y | 110 | 131 |  |
nibp-diastolic | Birth 12 h 3 kg | 31 | 45 |  |
nibp-diastolic | Neonate 96 h | 35 | 53 |  |
nibp-diastolic | Infant 1-12 mo | 37 | 56 |  |
nibp-diastolic | Toddler 1-2 y | 42 | 63 |  |
nibp-diastolic | Preschool 3-5 y | 46 | 72 |  |
nibp-diastolic | School 6-9 y | 57 | 76 |  |
nibp-diastolic | Preadolescent 10-11 y | 61 | 80 |  |
nibp-diastolic | Adolescent 12-15 y | 64 | 83 |  |
"""

# Age in years (13: and over), boys systolic, diastolic, girls systolic, diastolic.
FLYNN = """
1 98 52 98 54
2 100 55 101 58
3 101 58 102 60
4 102 60 103 62
5 103 63 104 64
6 105 66 105 67
7 106 68 106 68
8 107 69 107 69
9 107 70 108 71
10 108 72 109 72
11 110 74 111 74
12 113 75 114 75
13 120 80 120 80
"""

# Sex, months, systolic mean and SD, diastolic mean and SD, heart rate mean and SD.
GEMELLI = """
female 1 82 9 46 10 146 15
female 3 89 11 54 10 144 13
female 6 92 10 56 10 136 13
female 9 94 10 57 8 127 13
male 1 84 10 46 9 150 16
male 3 92 11 55 10 142 14
male 6 96 9 58 10 135 14
male 9 99 9 60 10 126 15
"""


@pytest.mark.parametrize("line", PALS.strip().splitlines())
def test_pals_ranges(line: str) -> None:
    vital_sign, group, *numbers = (cell.strip() for cell in line.split("|"))
    held = {
        row.when: (str(row.low), str(row.high))
        for row in pals_2015.NORMAL_RANGES
        if (row.vital_sign, row.group) == (vital_sign, group)
    }

    awake, asleep = tuple(numbers[:2]), tuple(numbers[2:])
    assert held == ({"awake": awake, "asleep": asleep} if any(asleep) else {None: awake})


@pytest.mark.parametrize(("age", "below"), [(0, 60), (1, 72), (5, 80), (9, 88), (10, 90), (17, 90)])
def test_pals_hypotension(age: int, below: int) -> None:
    """Neonate 60, infant 70, from 1 to 10 years 70 + 2 for each year, then 90."""
    (row,) = [row for row in pals_2015.HYPOTENSION if years(age) in row.ages]

    assert row.low is not None
    assert row.low + row.per_year * age == Decimal(below)


@pytest.mark.parametrize("line", FLYNN.strip().splitlines())
def test_flynn(line: str) -> None:
    age, *numbers = map(int, line.split())
    (row,) = [row for row in flynn_2017.TABLE if years(age) in row.ages]

    assert (*row.boys, *row.girls) == tuple(numbers)


def test_flynn_goes_on_for_ever_and_begins_at_one() -> None:
    assert flynn_2017.TABLE[-1].ages.end is None
    assert all(years(0) not in row.ages for row in flynn_2017.TABLE)


def test_gemelli() -> None:
    held = [
        " ".join(map(str, (row.sex, row.months, *row.systolic, *row.diastolic, *row.heart_rate)))
        for row in gemelli_1990.TABLE
    ]

    assert held == GEMELLI.strip().splitlines()


def test_saturation_after_birth() -> None:
    held = [(row.minute, row.low, row.high) for row in newborn_spo2.TABLE]

    assert held == [
        (1, 60, 65),
        (2, 65, 70),
        (3, 70, 75),
        (4, 75, 80),
        (5, 80, 85),
        (10, 85, 95),
    ]
    european = [(row.minute, row.low, row.high) for row in newborn_spo2.EUROPEAN]
    assert european == [(2, 65, None), (5, 85, None), (10, 90, None)]  # from memory


def test_apnoea() -> None:
    held = {(row.group, row.meaning): (row.seconds, row.grade) for row in apnoea.TABLE}

    assert held == {
        ("infant", "pathologic"): (20, "S"),
        ("infant", "a short central pause can be normal"): (15, "S"),
        ("infant", "periodic breathing"): (3, "S"),
        ("preterm", "apnoea of prematurity"): (20, "M"),
        ("preterm", "detected event"): (10, "P"),
    }


def test_calling_criteria() -> None:
    def ends(rows: tuple[object, ...]) -> dict[str, tuple[str, str]]:
        return {
            getattr(row, "vital_sign", ""): (
                str(getattr(row, "low", "")),
                str(getattr(row, "high", "")),
            )
            for row in rows
        }

    assert ends(met_criteria.DEVITA_2004) == {"respiratory-rate": ("8", "36")}
    assert ends(met_criteria.BELLOMO_2003) == {
        "heart-rate": ("40", "130"),
        "respiratory-rate": ("8", "30"),
        "nibp-systolic": ("90", "None"),
        "spo2": ("90", "None"),
    }
