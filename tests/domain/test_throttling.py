from datetime import UTC, datetime, timedelta

import pytest

from app.domain.throttling import FORGOTTEN_AFTER, LONGEST_WAIT, Failures

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("count", "seconds"),
    [(1, 0), (4, 0), (5, 1), (6, 2), (7, 4), (14, 512), (15, 900), (5000, 900)],
)
def test_the_wait_doubles_after_the_free_failures_up_to_a_cap(count: int, seconds: int) -> None:
    assert Failures(count, NOON).wait(free=5) == timedelta(seconds=seconds)
    assert timedelta(seconds=seconds) <= LONGEST_WAIT


def test_what_remains_shrinks_with_time() -> None:
    failures = Failures(7, NOON)

    assert failures.remaining(NOON, free=5) == timedelta(seconds=4)
    assert failures.remaining(NOON + timedelta(seconds=3), free=5) == timedelta(seconds=1)
    assert failures.remaining(NOON + timedelta(seconds=4), free=5) == timedelta()
    assert failures.remaining(NOON + timedelta(minutes=5), free=5) == timedelta()


def test_failures_are_forgotten() -> None:
    assert Failures(5000, NOON).remaining(NOON + FORGOTTEN_AFTER, free=5) == timedelta()
