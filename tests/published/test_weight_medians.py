"""Median weights at whole ages: printed once, made again from the held L, M and S.

WHO Child Growth Standards 2006 and WHO Reference 2007, weight for age, growth files (primary):
the mean of the boys' and the girls' median, rounded as typed here. CDC growth charts 2000, weight
for age, growth files: the same mean, from 10 years on; beside the WHO mean at 2 to 10 years as an
outside look at both.
"""

import pytest

from app.domain.ages import months, years
from app.domain.reference_ranges.cdc_weight import MEDIANS as CDC_MEDIANS
from app.domain.weight_ages import MEDIANS, age_from_weight

# Completed months, kg.
WHO_BY_MONTH = """
0 3.29
1 4.31
2 5.35
3 6.1
4 6.72
5 7.2
6 7.62
7 7.97
8 8.28
9 8.56
10 8.82
11 9.07
12 9.3
"""
# Years, WHO kg, CDC kg; a hyphen where the publication has no value.
BY_YEAR = """
0 3.3 -
1 9.3 -
2 11.8 12.4
3 14.1 14.2
4 16.2 16.1
5 18.3 18.3
6 20.3 20.6
7 22.6 23.0
8 25.2 25.8
9 28.2 28.9
10 31.5 32.6
11 - 36.7
12 - 41.3
13 - 45.9
14 - 50.4
15 - 54.3
16 - 57.5
17 - 59.9
18 - 61.8
"""
MONTHS = [line.split() for line in WHO_BY_MONTH.strip().splitlines()]
YEARS = [line.split() for line in BY_YEAR.strip().splitlines()]


@pytest.mark.parametrize(("month", "printed"), MONTHS)
def test_who_medians_by_month(month: str, printed: str) -> None:
    assert round(MEDIANS[int(month)], 2) == float(printed)


@pytest.mark.parametrize(("year", "printed"), [row[:2] for row in YEARS if row[1] != "-"])
def test_who_medians_by_year(year: str, printed: str) -> None:
    assert round(MEDIANS[12 * int(year)], 1) == float(printed)


def test_cdc_medians_by_year() -> None:
    printed = [(int(year), float(cdc)) for year, _, cdc in YEARS if int(year) >= 10]

    assert list(CDC_MEDIANS) == printed


@pytest.mark.parametrize(("who", "cdc"), [row[1:] for row in YEARS if "-" not in row])
def test_both_publications_are_within_six_percent_of_each_other(who: str, cdc: str) -> None:
    assert float(cdc) == pytest.approx(float(who), rel=0.06)


@pytest.mark.parametrize("month", range(1, 121))
def test_a_median_gives_its_age_back_exactly(month: int) -> None:
    assert age_from_weight(MEDIANS[month]).age == months(month)


@pytest.mark.parametrize(("year", "printed"), [row[:2] for row in YEARS[1:] if row[1] != "-"])
def test_a_printed_median_gives_its_age_back_within_half_a_month(year: str, printed: str) -> None:
    age = age_from_weight(min(float(printed), MEDIANS[-1])).age

    assert age is not None
    assert float(age.months) == pytest.approx(float(years(int(year)).months), abs=0.5)
