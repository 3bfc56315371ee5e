import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.trends import Trends
from app.exchange.packed_trends import packed, unpacked
from tests import recorded

TENTHS = st.one_of(st.just(np.nan), st.integers(-3000, 3000).map(lambda whole: whole / 10))


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(TENTHS, st.integers(0, 300)), min_size=1, max_size=40), st.data())
def test_what_lies_on_the_step_comes_back_exactly(
    rows: list[tuple[float, int]], data: st.DataObject
) -> None:
    size = len(rows)
    first = data.draw(st.integers(-(10**12), 10**12))
    trends = Trends(
        np.sort(np.array([data.draw(st.integers(0, 3)) for _ in rows])),
        first + np.arange(size) * 7,
        {
            "temperature": np.array([value for value, _ in rows]),
            "heart-rate": np.array([float(rate) for _, rate in rows]),
        },
        7,
    )

    found = unpacked(packed(trends)[0])

    assert found.step_s == 7
    assert found.patient.tolist() == trends.patient.tolist()
    assert found.second.tolist() == trends.second.tolist()
    for name, values in trends.values.items():
        np.testing.assert_array_equal(found.values[name], values)


def test_a_value_between_two_steps_goes_to_the_nearest() -> None:
    trends = Trends(np.zeros(3, np.int64), np.arange(3), {"spo2": np.array([89.4, 89.6, 90])}, 1)

    assert unpacked(packed(trends)[0]).values["spo2"].tolist() == [89, 90, 90]


def test_the_fingerprint_is_of_the_trends_and_of_all_of_them() -> None:
    first = recorded.trends()
    prints = {packed(first)[1]}
    assert packed(unpacked(packed(first)[0]))[1] in prints

    for name in first.values:
        changed = {**first.values, name: first.values[name] + (np.arange(first.rows) == 5)}
        prints.add(packed(Trends(first.patient, first.second, changed, 1))[1])
    prints.add(packed(Trends(first.patient, first.second, first.values, 2))[1])
    prints.add(packed(Trends(first.patient, first.second + 1, first.values, 1))[1])
    assert len(prints) == 5


def test_it_is_much_smaller_than_the_numbers() -> None:
    first = recorded.trends()

    assert len(packed(first)[0]) < first.rows * 8 / 2


def test_another_form_is_not_guessed_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.exchange.packed_trends._FORM", "marchstone-trends/9")
    kept = packed(recorded.trends())[0]
    monkeypatch.undo()

    with pytest.raises(ValueError, match="another form"):
        unpacked(kept)


def test_the_fingerprint_hangs_on_no_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = packed(recorded.trends())
    monkeypatch.setattr("app.exchange.packed_trends._PIECE", 3)

    assert packed(recorded.trends()) == whole
