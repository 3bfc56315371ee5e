from datetime import UTC, date, datetime, timedelta

import pytest

from app.domain.acceptances import LONGEST_DAYS, check_until, end_of
from app.domain.errors import Refused

TODAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("days", "allowed"),
    [(-1, False), (0, True), (1, True), (LONGEST_DAYS, True), (LONGEST_DAYS + 1, False)],
)
def test_it_is_never_for_no_end(days: int, allowed: bool) -> None:
    until = TODAY + timedelta(days=days)

    if allowed:
        check_until(until, today=TODAY)
    else:
        with pytest.raises(Refused):
            check_until(until, today=TODAY)


@pytest.mark.parametrize(
    ("until", "ends"),
    [
        (date(2026, 3, 2), datetime(2026, 3, 3, 0, tzinfo=UTC)),
        (date(2026, 3, 28), datetime(2026, 3, 29, 0, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 23, tzinfo=UTC)),  # clocks went forward
        (date(2026, 7, 1), datetime(2026, 7, 1, 23, tzinfo=UTC)),
    ],
)
def test_it_ends_with_its_last_day_where_the_agency_is(until: date, ends: datetime) -> None:
    assert end_of(until, "Europe/London") == ends
