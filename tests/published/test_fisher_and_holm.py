"""Fisher's exact test against scipy, Holm's correction against statsmodels."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import fisher_exact
from statsmodels.stats.multitest import multipletests

from app.domain.patterns import fisher_greater, holm


@pytest.mark.parametrize(
    ("hit", "among", "deviating", "asked"),
    [(9, 9, 9, 46), (8, 9, 9, 46), (3, 10, 12, 40), (0, 5, 5, 20), (40, 400, 300, 10_000)],
)
def test_fisher_against_scipy(hit: int, among: int, deviating: int, asked: int) -> None:
    table = [
        [hit, among - hit],
        [deviating - hit, asked - among - deviating + hit],
    ]

    ours = fisher_greater(hit, among, deviating, asked)

    assert ours == pytest.approx(fisher_exact(table, alternative="greater").pvalue, rel=1e-9)


@settings(max_examples=50)
@given(st.lists(st.floats(1e-9, 1), min_size=1, max_size=40))
def test_holm_against_statsmodels(chances: list[float]) -> None:
    assert holm(chances) == pytest.approx(multipletests(chances, method="holm")[1])
