from datetime import UTC, datetime, timedelta

import pytest

from app.domain.measures import Point, Waiting, run_chart, share, share_of_fleet, times

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
HOUR = timedelta(hours=1)


def took(*hours: float) -> list[Waiting]:
    return [Waiting(NOW - 100 * HOUR, NOW - 100 * HOUR + h * HOUR) for h in hours]


def open_for(*hours: float) -> list[Waiting]:
    return [Waiting(NOW - h * HOUR, None) for h in hours]


def series(*percents: int | None) -> list[Point]:
    return [
        Point(f"m{n}", 0 if p is None else p, 0 if p is None else 100)
        for n, p in enumerate(percents)
    ]


class TestShares:
    def test_without_a_count_there_is_no_share(self) -> None:
        assert share(0, 0).percent is None
        assert share(0, 0).interval is None

    def test_all_twenty_of_many_prove_little(self) -> None:
        found = share(20, 20)

        assert found.percent == 100
        assert found.interval is not None
        assert found.interval.low == pytest.approx(0.839, abs=0.0005)

    def test_a_census_is_a_count(self) -> None:
        found = share_of_fleet(38, 40, 40)

        assert found.interval is not None
        assert (found.interval.low, found.interval.high) == (0.95, 0.95)


class TestTimes:
    def test_the_middle_of_what_ended(self) -> None:
        found = times(took(1, 2, 3, 4, 10), now=NOW)

        assert (found.count, found.done) == (5, 5)
        assert (found.middle, found.ninetieth) == (3 * HOUR, 10 * HOUR)

    def test_what_nobody_finishes_counts_as_at_least_so_long(self) -> None:
        flattering = times(took(1, 1, 1), now=NOW)
        honest = times([*took(1, 1, 1), *open_for(50, 60, 70, 80)], now=NOW)

        assert flattering.middle == HOUR
        assert honest.middle is None
        assert (honest.count, honest.done) == (7, 3)

    def test_one_that_has_only_begun_hardly_counts(self) -> None:
        found = times([*took(2, 4, 6), *open_for(1)], now=NOW)

        assert found.middle == 4 * HOUR

    def test_nothing_yet(self) -> None:
        assert times([], now=NOW).middle is None


class TestRunCharts:
    def test_below_ten_points_nothing_is_signalled(self) -> None:
        assert run_chart(series(*range(9))).signals == ()

    def test_a_month_without_a_reading_is_no_zero(self) -> None:
        chart = run_chart(series(90, None, 80))

        assert chart.middle == pytest.approx(0.85)
        assert chart.points[1].share is None

    @pytest.mark.parametrize(
        ("percents", "shift"),
        [
            ((1, 9, 1, 9, 1, 1, 8, 8, 8, 8, 8, 1, 1, 1), False),  # five above
            ((1, 9, 1, 9, 1, 8, 8, 8, 8, 8, 8, 1, 1, 1, 1), False),  # the median is one of them
            ((1, 9, 1, 9, 1, 1, 1, 8, 8, 8, 8, 8, 8, 1, 1, 1), True),  # six above
        ],
    )
    def test_a_shift_is_six_on_one_side(self, percents: tuple[int, ...], *, shift: bool) -> None:
        signals = run_chart(series(*percents)).signals

        assert any("a shift" in one for one in signals) is shift

    def test_a_point_on_the_median_breaks_no_run(self) -> None:
        chart = run_chart(series(1, 9, 1, 9, 1, 9, 5, 7, 7, 7, 5, 7, 7, 1, 1, 1, 1))

        assert chart.middle == 0.05
        assert chart.signals == ("6 in a row above the median, m5 to m12: a shift",)

    @pytest.mark.parametrize(
        ("percents", "trend"),
        [
            ((5, 1, 5, 1, 5, 1, 2, 3, 4, 1, 5), False),  # four that rise
            ((5, 1, 5, 1, 5, 1, 2, 3, 4, 6, 1), True),  # five that rise
            ((5, 1, 5, 1, 5, 1, 2, 2, 3, 4, 6, 1), True),  # equal ones are left out
            ((1, 5, 1, 5, 1, 9, 8, 7, 6, 2, 5), True),  # five that fall
        ],
    )
    def test_a_trend_is_five_one_way(self, percents: tuple[int, ...], *, trend: bool) -> None:
        signals = run_chart(series(*percents)).signals

        assert any("a trend" in one for one in signals) is trend
