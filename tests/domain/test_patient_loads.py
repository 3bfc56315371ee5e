import numpy as np
import pytest

from app.domain.patient_loads import SEED, PatientLoads, added_up, intervals, patient_loads
from app.domain.replay import replay, replay_all
from app.domain.trends import Line, Trends

LINE = Line("spo2-low", "spo2", "low", 90, 0)


def loads(*counts: int, hours: float = 1.0) -> PatientLoads:
    return PatientLoads(
        np.full(len(counts), hours), np.array(counts), np.array(counts, dtype=np.float64)
    )


def dice() -> np.random.Generator:
    return np.random.default_rng(SEED)


def recorded(*patients: list[float], vital_sign: str = "spo2", step_s: int = 1) -> Trends:
    return Trends(
        np.repeat(np.arange(len(patients)), [len(one) for one in patients]),
        np.concatenate([np.arange(len(one)) * step_s for one in patients]),
        {vital_sign: np.concatenate([np.array(one, dtype=np.float64) for one in patients])},
        step_s,
    )


@pytest.mark.parametrize(
    ("counts", "share"),
    [
        ((10, *[0] * 9), 1.0),
        ((10, *[10] * 9), 0.1),
        ((10, 5, *[1] * 9), 15 / 24),  # 11 patients: a tenth is two of them
        ((0, 0), None),
        ((3,), 1.0),
    ],
)
def test_the_worst_tenth_is_rounded_up_to_whole_patients(
    counts: tuple[int, ...], share: float | None
) -> None:
    assert loads(*counts).worst_tenth == share


def test_each_patient_has_its_own_hours_alarms_and_seconds() -> None:
    trends = recorded([89, 95, 89, 89], [95, 95], step_s=1800)

    by_alarm, whole = patient_loads(trends, [LINE])

    load = by_alarm["spo2-low"]
    assert load.hours.tolist() == [2.0, 1.0]
    assert load.counts.tolist() == [2, 0]
    assert load.seconds.tolist() == [3 * 1800, 0]
    assert (whole.counts == load.counts).all()


def test_recordings_add_up_patient_by_patient() -> None:
    first, second = recorded([89, 95]), recorded([95], [89], [95], step_s=1)

    together = replay_all([first, second], [LINE])

    assert together.patients == 4
    assert together.alarms["spo2-low"].count == 2
    assert together.alarms["spo2-low"].patients_with_alarm == 2
    assert together.patient_hours == pytest.approx(5 / 3600)


def test_an_alarm_counts_the_hours_of_recordings_that_hold_its_vital_sign() -> None:
    other = recorded([120.0] * 10, vital_sign="heart-rate")

    found = replay_all([recorded([89, 95]), other], [LINE])

    assert found.alarms["spo2-low"].per_patient_hour == pytest.approx(1 / (2 / 3600))
    assert found.all.per_patient_hour == pytest.approx(1 / (12 / 3600))
    assert found.patients == 2


def test_recordings_with_other_steps_stand_side_by_side() -> None:
    slow, fast = recorded([89, 89, 89], step_s=60), recorded([89, 89, 89])

    found = replay_all([slow, fast], [Line("spo2-low", "spo2", "low", 90, 30)])

    assert found.alarms["spo2-low"].count == 1
    assert found.alarms["spo2-low"].seconds_in_alarm == 120
    alone = [replay(one, [LINE]).all.seconds_in_alarm for one in (slow, fast)]
    assert replay_all([slow, fast], [LINE]).all.seconds_in_alarm == sum(alone)


def test_equal_patients_leave_no_doubt_and_unequal_ones_do() -> None:
    same = intervals([loads(4, 4, 4, 4)], dice())
    apart = intervals([loads(0, 0, 0, 16)], dice())

    assert same is not None
    assert apart is not None
    assert (same[0][0].low, same[0][0].high) == (4, 4)
    assert apart[0][0].low == 0
    assert apart[0][0].high > 8


def test_the_interval_holds_the_truth_about_as_often_as_it_says() -> None:
    """Two hundred samples of forty patients from one law, with a mean of five an hour."""
    thrown = np.random.default_rng(3)
    held = 0
    for _ in range(200):
        drawn = thrown.negative_binomial(2, 2 / 7, 40)
        found = intervals([loads(*drawn.tolist())], thrown, draws=400)
        assert found is not None
        held += found[0][0].low <= 5 <= found[0][0].high

    assert 0.86 <= held / 200 <= 0.99


def test_two_policies_are_compared_on_the_same_patients() -> None:
    """Every patient sounds one time less: there is no doubt, however far the patients differ."""
    before, after = loads(1, 5, 9, 80), loads(0, 4, 8, 79)

    found = intervals([before, after], dice())

    assert found is not None
    change = found[1]
    assert change is not None
    assert (change.low, change.high) == (-1, -1)


def test_the_same_seed_gives_the_same_and_another_need_not() -> None:
    one = intervals([loads(1, 2, 30)], dice())

    assert one == intervals([loads(1, 2, 30)], dice())
    assert one != intervals([loads(1, 2, 30)], np.random.default_rng(1), draws=37)


def test_a_single_patient_has_no_interval() -> None:
    assert intervals([loads(7)], dice()) is None


def test_adding_up_keeps_the_order() -> None:
    whole = added_up([loads(1, 2), loads(3, hours=2.0)])

    assert whole.counts.tolist() == [1, 2, 3]
    assert whole.per_hour == pytest.approx(6 / 4)
