from datetime import timedelta

import pytest

from app.domain.comparison import Direction
from app.domain.errors import NotNow
from app.domain.finding_life import LIFE, FindingStatus, check_step, due_times
from app.domain.findings import Severity

LEGAL = {
    ("open", "contained"),
    ("contained", "corrected"),
    ("corrected", "verified"),
    ("verified", "closed"),
}
UNSAFE, OFF_PROTOCOL = Severity.UNSAFE, Severity.OFF_PROTOCOL


@pytest.mark.parametrize("to", FindingStatus)
@pytest.mark.parametrize("status", FindingStatus)
def test_only_the_steps_of_the_table_are_allowed(status: FindingStatus, to: FindingStatus) -> None:
    if (status.value, to.value) in LEGAL:
        assert check_step(status, to) is LIFE[status][to]
    else:
        with pytest.raises(NotNow):
            check_step(status, to)


@pytest.mark.parametrize(
    ("severity", "direction", "contain", "verify"),
    [
        (UNSAFE, Direction.LOOSER, timedelta(hours=1), timedelta(hours=24)),
        (UNSAFE, Direction.OTHER, timedelta(hours=1), timedelta(hours=24)),
        (OFF_PROTOCOL, Direction.LOOSER, timedelta(hours=12), timedelta(days=7)),
        (OFF_PROTOCOL, Direction.SWITCHED_OFF, timedelta(hours=12), timedelta(days=7)),
        (OFF_PROTOCOL, Direction.TIGHTER, timedelta(days=30), timedelta(days=30)),
        (OFF_PROTOCOL, Direction.SWITCHED_ON, timedelta(days=30), timedelta(days=30)),
        (OFF_PROTOCOL, Direction.OTHER, timedelta(days=30), timedelta(days=30)),
    ],
)
def test_what_can_hurt_sooner_is_due_sooner(
    severity: Severity, direction: Direction, contain: timedelta, verify: timedelta
) -> None:
    times = due_times(severity, direction)

    assert (times.contain, times.verify) == (contain, verify)
