"""A line's curves read at one limit, delay and bound: what a director asks of them."""

from dataclasses import dataclass
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.comparison import DEEP
from app.domain.evidence import LineEvidence, Measured, SilentBeyond
from app.domain.settings_of_alarms import show_number


@dataclass(frozen=True)
class Asked:
    """Places in the line's limits, delays and bounds."""

    limit: int
    delay: int
    bound: int


@dataclass(frozen=True)
class NoiseReading:
    """`silent`: seconds, episodes, patients beyond the bound that nothing announces; None where no
    bound judges the line."""

    limit: float
    delay_s: float
    count: int
    seconds: int
    patients: int
    silent: tuple[int, int, int] | None


def alarm_of_line(name: str) -> AlarmCondition:
    return ALARM_CONDITIONS[name.removesuffix(DEEP)]


def label_of_line(name: str) -> str:
    label = alarm_of_line(name).label
    return f"{label}, deep line" if name.endswith(DEEP) else label


def number_words(value: float) -> str:
    return show_number(Decimal(repr(value)))


def asked_of(
    line: LineEvidence, limit: float | None, delay_s: float | None, bound: int | None
) -> Asked:
    """The nearest there is; unless asked, the line as this revision has it, else as it was."""
    own = line.revision or line.against
    if limit is None:
        limit = line.limits[len(line.limits) // 2] if own is None else own.limit
    if delay_s is None:
        delay_s = line.delays[0] if own is None else own.delay_s
    last = max(len(line.silence) - 1, 0)
    return Asked(
        _nearest(line.limits, limit or 0.0),
        _nearest(line.delays, delay_s),
        min(max(bound or 0, 0), last),
    )


def _nearest(values: tuple[float, ...], wanted: float) -> int:
    return min(range(len(values)), key=lambda place: abs(values[place] - wanted))


def read_curves(line: LineEvidence, at: Asked) -> NoiseReading:
    silent = line.silence[at.bound] if line.silence else None
    return NoiseReading(
        limit=line.limits[at.limit],
        delay_s=line.delays[at.delay],
        count=line.counts[at.delay][at.limit],
        seconds=line.seconds[at.delay][at.limit],
        patients=line.alarmed[at.delay][at.limit],
        silent=None if silent is None else _silent(silent, at),
    )


def _silent(silent: SilentBeyond, at: Asked) -> tuple[int, int, int]:
    return (
        silent.seconds[at.delay][at.limit],
        silent.episodes[at.delay][at.limit],
        silent.patients[at.delay][at.limit],
    )


def place_of(line: LineEvidence, policy: Measured | None) -> Asked | None:
    """Where a policy's line stands on the curves; None where it is not on."""
    return None if policy is None else asked_of(line, policy.limit, policy.delay_s, None)
