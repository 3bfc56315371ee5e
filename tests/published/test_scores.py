"""Score bands, every printed edge typed a second time.

National PEWS: NHS England, Configuration Document for SPOT NPEWS 2023 (primary). NEWS2: Royal
College of Physicians 2017, chart 1 (a transcription). Phoenix: Schlapbach, JAMA 2024;331:665-74,
and the independent library phoenix-sepsis where it is installed.
"""

import pytest

from app.domain.ages import months, years
from app.domain.reference_ranges import news2_2017, pews_england_2023, phoenix_2024
from app.domain.reference_ranges.score_steps import ScoreSteps

# Vital sign, first year of age, from, to (both inclusive), score.
PEWS = """
respiratory-rate 0 - 9.99 4
respiratory-rate 0 10 19.99 2
respiratory-rate 0 20 29.99 1
respiratory-rate 0 30 49.99 0
respiratory-rate 0 50 59.99 1
respiratory-rate 0 60 69.99 2
respiratory-rate 0 70 - 4
respiratory-rate 1 - 9.99 4
respiratory-rate 1 10 19.99 2
respiratory-rate 1 20 39.99 0
respiratory-rate 1 40 49.99 1
respiratory-rate 1 50 59.99 2
respiratory-rate 1 60 - 4
respiratory-rate 5 - 9.99 4
respiratory-rate 5 10 14.99 2
respiratory-rate 5 15 19.99 1
respiratory-rate 5 20 24.99 0
respiratory-rate 5 25 39.99 1
respiratory-rate 5 40 49.99 2
respiratory-rate 5 50 - 4
respiratory-rate 13 - 9.99 4
respiratory-rate 13 10 14.99 1
respiratory-rate 13 15 24.99 0
respiratory-rate 13 25 29.99 1
respiratory-rate 13 30 39.99 2
respiratory-rate 13 40 - 4
heart-rate 0 - 79.99 4
heart-rate 0 80 89.99 2
heart-rate 0 90 109.99 1
heart-rate 0 110 149.99 0
heart-rate 0 150 169.99 1
heart-rate 0 170 179.99 2
heart-rate 0 180 - 4
heart-rate 1 - 59.99 4
heart-rate 1 60 69.99 2
heart-rate 1 70 89.99 1
heart-rate 1 90 139.99 0
heart-rate 1 140 149.99 1
heart-rate 1 150 169.99 2
heart-rate 1 170 - 4
heart-rate 5 - 59.99 4
heart-rate 5 60 69.99 2
heart-rate 5 70 79.99 1
heart-rate 5 80 119.99 0
heart-rate 5 120 139.99 1
heart-rate 5 140 159.99 2
heart-rate 5 160 - 4
heart-rate 13 - 49.99 4
heart-rate 13 50 59.99 2
heart-rate 13 60 69.99 1
heart-rate 13 70 99.99 0
heart-rate 13 100 119.99 1
heart-rate 13 120 129.99 2
heart-rate 13 130 - 4
nibp-systolic 0 - 49.99 4
nibp-systolic 0 50 59.99 2
nibp-systolic 0 60 69.99 1
nibp-systolic 0 70 89.99 0
nibp-systolic 0 90 99.99 1
nibp-systolic 0 100 109.99 2
nibp-systolic 0 110 - 4
nibp-systolic 1 - 49.99 4
nibp-systolic 1 50 59.99 2
nibp-systolic 1 60 79.99 1
nibp-systolic 1 80 99.99 0
nibp-systolic 1 100 119.99 1
nibp-systolic 1 120 129.99 2
nibp-systolic 1 130 - 4
nibp-systolic 5 - 69.99 4
nibp-systolic 5 70 79.99 2
nibp-systolic 5 80 89.99 1
nibp-systolic 5 90 109.99 0
nibp-systolic 5 110 119.99 1
nibp-systolic 5 120 129.99 2
nibp-systolic 5 130 - 4
nibp-systolic 13 - 79.99 4
nibp-systolic 13 80 89.99 2
nibp-systolic 13 90 99.99 1
nibp-systolic 13 100 119.99 0
nibp-systolic 13 120 129.99 1
nibp-systolic 13 130 139.99 2
nibp-systolic 13 140 - 4
spo2 0 - 91 4
spo2 0 91.01 94.99 1
spo2 0 95 100 0
spo2 1 - 91 4
spo2 1 91.01 94.99 1
spo2 1 95 100 0
spo2 5 - 91 4
spo2 5 91.01 94.99 1
spo2 5 95 100 0
spo2 13 - 91 4
spo2 13 91.01 94.99 1
spo2 13 95 100 0
"""

# Vital sign, scale, from, to (both inclusive), score.
NEWS2 = """
respiratory-rate - - 8 3
respiratory-rate - 9 11 1
respiratory-rate - 12 20 0
respiratory-rate - 21 24 2
respiratory-rate - 25 - 3
spo2 - - 91 3
spo2 - 92 93 2
spo2 - 94 95 1
spo2 - 96 - 0
spo2 scale2-both - 83 3
spo2 scale2-both 84 85 2
spo2 scale2-both 86 87 1
spo2 scale2-both 88 92 0
spo2 scale2-air 93 - 0
spo2 scale2-oxygen 93 94 1
spo2 scale2-oxygen 95 96 2
spo2 scale2-oxygen 97 - 3
nibp-systolic - - 90 3
nibp-systolic - 91 100 2
nibp-systolic - 101 110 1
nibp-systolic - 111 219 0
nibp-systolic - 220 - 3
heart-rate - - 40 3
heart-rate - 41 50 1
heart-rate - 51 90 0
heart-rate - 91 110 1
heart-rate - 111 130 2
heart-rate - 131 - 3
temperature - - 35.0 3
temperature - 35.1 36.0 1
temperature - 36.1 38.0 0
temperature - 38.1 39.0 1
temperature - 39.1 - 2
"""
# On scale 2 the bands from 88 and, in air, from 93 both score 0.
HYPERCAPNIA: dict[str, list[str | None]] = {
    "-": [None],
    "scale2-both": ["hypercapnia-risk", "hypercapnia-risk on oxygen"],
    "scale2-air": ["hypercapnia-risk"],
    "scale2-oxygen": ["hypercapnia-risk on oxygen"],
}


def printed(table: str) -> list[list[str]]:
    return [line.split() for line in table.strip().splitlines()]


def check_band(
    steps: ScoreSteps, start: str, end: str, score: str, *, neighbours_differ: bool = True
) -> None:
    for edge in (start, end):
        if edge != "-":
            assert steps.score(float(edge)) == int(score)
    if start != "-" and neighbours_differ:
        assert steps.score(float(start) - 0.011) != int(score)
    if end not in ("-", "100") and neighbours_differ:
        assert steps.score(float(end) + 1) != int(score)


@pytest.mark.parametrize(("vital_sign", "year", "start", "end", "score"), printed(PEWS))
def test_pews(vital_sign: str, year: str, start: str, end: str, score: str) -> None:
    found = [
        steps
        for steps in pews_england_2023.TABLE
        if steps.vital_sign == vital_sign and years(int(year)) in steps.ages
    ]

    assert len(found) == 1
    check_band(found[0], start, end, score)


@pytest.mark.parametrize(("vital_sign", "scale", "start", "end", "score"), printed(NEWS2))
def test_news2(vital_sign: str, scale: str, start: str, end: str, score: str) -> None:
    for when in HYPERCAPNIA[scale]:
        found = [
            steps
            for steps in news2_2017.TABLE
            if (steps.vital_sign, steps.when) == (vital_sign, when)
        ]
        assert len(found) == 1
        check_band(found[0], start, end, score, neighbours_differ=when is None)


def test_no_band_is_held_that_is_not_printed() -> None:
    held = sum(len(list(steps.bands())) for steps in pews_england_2023.TABLE)

    assert held == len(printed(PEWS))


# Months from, months to, scores 2 below, scores 0 from.
PHOENIX = [
    (0, 1, 17, 31),
    (1, 12, 25, 39),
    (12, 24, 31, 44),
    (24, 60, 32, 45),
    (60, 144, 36, 49),
    (144, 216, 38, 52),
]


@pytest.mark.parametrize(("start", "end", "two_below", "none_from"), PHOENIX)
def test_phoenix(start: int, end: int, two_below: int, none_from: int) -> None:
    for month in (start, end - 1):
        (steps,) = [steps for steps in phoenix_2024.TABLE if months(month) in steps.ages]
        pressures = (two_below - 1, two_below, none_from - 1, none_from)
        assert [steps.score(pressure) for pressure in pressures] == [2, 1, 1, 0]
