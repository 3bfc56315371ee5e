"""WHO weight for age: the printed centiles against those made from the held L, M and S.

WHO Child Growth Standards 2006 and WHO Reference 2007, growth files (primary): the first months,
every sixth month, and the months at the seam of the two references.
"""

import pytest

from app.domain.reference_ranges.who_weight import TABLE

# Sex, completed months, 1st, 3rd, 50th, 97th, 99th centile in kg.
PRINTED = """
boys 0 2.331 2.507 3.346 4.35 4.613
boys 1 3.221 3.433 4.453 5.69 6.018
boys 2 4.142 4.39 5.571 6.996 7.373
boys 6 6.127 6.443 7.939 9.73 10.203
boys 12 7.465 7.844 9.646 11.83 12.412
boys 18 8.44 8.871 10.939 13.478 14.159
boys 24 9.317 9.802 12.148 15.065 15.854
boys 30 10.127 10.667 13.299 16.616 17.521
boys 36 10.85 11.441 14.344 18.048 19.068
boys 42 11.538 12.179 15.347 19.436 20.57
boys 48 12.21 12.902 16.349 20.852 22.111
boys 54 12.858 13.604 17.347 22.3 23.696
boys 60 13.485 14.287 18.335 23.761 25.304
boys 61 13.802 14.58 18.506 23.774 25.276
boys 66 14.437 15.251 19.394 25.053 26.687
boys 72 15.248 16.105 20.514 26.661 28.464
boys 78 16.097 16.999 21.681 28.349 30.336
boys 84 16.968 17.916 22.892 30.13 32.323
boys 90 17.842 18.841 24.137 32.017 34.448
boys 96 18.708 19.763 25.416 34.033 36.742
boys 102 19.564 20.681 26.736 36.206 39.245
boys 108 20.418 21.603 28.109 38.562 41.99
boys 114 21.299 22.561 29.574 41.135 45.01
boys 119 22.071 23.406 30.885 43.455 47.732
boys 120 22.23 23.581 31.159 43.938 48.299
girls 0 2.273 2.44 3.232 4.166 4.409
girls 1 3.003 3.203 4.172 5.371 5.694
girls 2 3.776 4.007 5.132 6.534 6.913
girls 6 5.514 5.816 7.302 9.204 9.729
girls 12 6.779 7.14 8.946 11.331 12.003
girls 18 7.764 8.173 10.232 12.993 13.781
girls 24 8.701 9.159 11.474 14.607 15.506
girls 30 9.599 10.11 12.705 16.246 17.27
girls 36 10.396 10.962 13.852 17.839 19.0
girls 42 11.132 11.756 14.97 19.465 20.786
girls 48 11.826 12.511 16.07 21.12 22.62
girls 54 12.503 13.249 17.157 22.786 24.474
girls 60 13.157 13.964 18.218 24.429 26.31
girls 61 13.404 14.173 18.258 24.336 26.208
girls 66 13.975 14.788 19.128 25.664 27.696
girls 72 14.648 15.513 20.164 27.273 29.508
girls 78 15.333 16.252 21.227 28.945 31.399
girls 84 16.072 17.049 22.374 30.755 33.451
girls 90 16.887 17.927 23.637 32.752 35.716
girls 96 17.786 18.896 25.026 34.947 38.209
girls 102 18.775 19.961 26.552 37.355 40.943
girls 108 19.847 21.116 28.204 39.96 43.901
girls 114 20.993 22.349 29.966 42.734 47.051
girls 119 22.013 23.447 31.532 45.19 49.835
girls 120 22.226 23.676 31.858 45.7 50.414
"""


@pytest.mark.parametrize("line", PRINTED.strip().splitlines())
def test_printed_centiles(line: str) -> None:
    sex, month, *printed = line.split()
    (row,) = [row for row in TABLE if (row.sex, row.months) == (sex, int(month))]

    made = [row.weight_at(centile) for centile in (1, 3, 50, 97, 99)]

    # The files round L, M and S, so the third decimal may differ by one.
    assert made == pytest.approx([float(number) for number in printed], abs=1.5e-3)


def test_a_weight_comes_back_from_its_score() -> None:
    for row in TABLE:
        assert row.score_of(row.weight_at(90)) == pytest.approx(1.2815515655)


def test_every_month_is_held_once_for_each_sex() -> None:
    held = [(row.sex, row.months) for row in TABLE]

    assert held == [(sex, month) for sex in ("boys", "girls") for month in range(121)]
