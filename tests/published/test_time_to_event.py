"""Times with cases still open, against the survival functions of statsmodels."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.survfunc import SurvfuncRight

from app.domain.measures import Waiting, times

NOW = datetime(2026, 3, 2, tzinfo=UTC)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=2, max_size=30))
def test_the_quantiles_are_those_of_kaplan_and_meier(lasted: list[tuple[int, bool]]) -> None:
    if not any(ended for _, ended in lasted):
        return
    begun = [(NOW - timedelta(hours=hours), hours, ended) for hours, ended in lasted]
    cases = [Waiting(at, at + timedelta(hours=h) if ended else None) for at, h, ended in begun]

    ours = times(cases, now=NOW)

    outside = SurvfuncRight([h for h, _ in lasted], [int(ended) for _, ended in lasted])
    for share, found in ((0.5, ours.middle), (0.9, ours.ninetieth)):
        reached = [
            time
            for time, still in zip(outside.surv_times, outside.surv_prob, strict=True)
            if still <= 1 - share + 1e-9
        ]
        wanted = timedelta(hours=float(reached[0])) if reached else None
        assert found == wanted
