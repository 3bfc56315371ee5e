from collections.abc import Sequence
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.patterns import Case, fisher_greater, holm, patterns

LOW_20 = ("etco2-low", "20")


def a_case(number: int, *, deviates: bool = False, **attributes: str) -> Case:
    found = {LOW_20} if deviates else set()
    return Case(f"d{number:02}", attributes, {"etco2-low"}, found)


def fleet(off: int, of: int, others_off: int, others: int) -> list[Case]:
    """Software 3.2 on the first `of`, 3.1 on the others."""
    return [
        *(a_case(n, deviates=n < off, software="3.2") for n in range(of)),
        *(a_case(of + n, deviates=n < others_off, software="3.1") for n in range(others)),
    ]


def test_all_nine_of_one_software_and_none_of_the_others() -> None:
    [found] = patterns(fleet(9, 9, 0, 37))

    assert (found.attribute, found.value) == ("software", "3.2")
    assert (found.with_value, found.of_with, found.without, found.of_without) == (9, 9, 0, 37)
    assert found.complete
    assert found.tried == 2
    assert found.chance == pytest.approx(2 / comb(46, 9))
    assert found.devices[0] == "d00"


def test_one_device_is_no_pattern() -> None:
    assert patterns(fleet(1, 1, 0, 37)) == []


def test_what_chance_may_give_is_no_pattern() -> None:
    assert patterns(fleet(2, 9, 5, 37)) == []


def test_a_device_that_was_not_asked_counts_on_neither_side() -> None:
    unread = [Case(f"u{n}", {"software": "3.2"}, set(), set()) for n in range(20)]

    [found] = patterns([*fleet(9, 9, 0, 37), *unread])

    assert (found.of_with, found.of_without) == (9, 37)


def test_more_questions_ask_for_surer_answers() -> None:
    noise = {f"trigger-{n}": "x" for n in range(3)}
    few = patterns(fleet(3, 3, 0, 7))
    crowded = [
        Case(one.device, {**one.attributes, **(noise if n % 2 else {})}, one.asked, one.found)
        for n, one in enumerate(fleet(3, 3, 0, 7))
    ]

    assert few[0].chance == pytest.approx(2 / 120)
    assert patterns(crowded, doubt=1 / 30) == []
    assert patterns(fleet(3, 3, 0, 7), doubt=1 / 30) == few


def test_what_parts_the_devices_alike_is_told_together() -> None:
    cases = [
        a_case(
            n, deviates=n < 9, software="3.2" if n < 9 else "3.1", model="dunlin" if n < 9 else ""
        )
        for n in range(30)
    ]

    [found] = patterns(cases)

    assert {(found.attribute, found.value), *found.alike} == {
        ("software", "3.2"),
        ("model", "dunlin"),
    }


def test_the_order_of_the_devices_changes_nothing() -> None:
    cases = fleet(8, 9, 1, 37)

    assert patterns(cases) == patterns(cases[::-1])


@pytest.mark.parametrize(
    ("chances", "corrected"),
    [
        ([], []),
        ([0.04], [0.04]),
        ([0.01, 0.04, 0.03], [0.03, 0.06, 0.06]),
        ([0.5, 0.9], [1.0, 1.0]),
    ],
)
def test_holm_by_hand(chances: Sequence[float], corrected: Sequence[float]) -> None:
    assert holm(chances) == pytest.approx(corrected)


@given(st.data())
def test_the_chance_is_a_share_of_all_draws(data: st.DataObject) -> None:
    asked = data.draw(st.integers(1, 30))
    among = data.draw(st.integers(0, asked))
    deviating = data.draw(st.integers(0, asked))
    hit = data.draw(st.integers(0, min(among, deviating)))

    ways = sum(
        comb(deviating, k) * comb(asked - deviating, among - k)
        for k in range(hit, min(among, deviating) + 1)
        if among - k >= 0
    )

    assert fisher_greater(hit, among, deviating, asked) == pytest.approx(ways / comb(asked, among))
