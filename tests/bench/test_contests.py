"""The bench itself: what it may claim."""

import pytest

from tests.bench.__main__ import REFUSED, table
from tests.bench.contests import LEAST_TURNS, Contest, Rival, hold


def contest(theirs: object, *, answers: bool = True) -> Contest:
    return Contest(
        "counting",
        "three",
        Rival("ours", lambda: 3),
        (Rival("theirs", lambda: theirs, answers=answers),),
        "fast",
    )


def test_a_ratio_is_ours_by_theirs() -> None:
    (line,) = hold(contest(3), turns=LEAST_TURNS)

    assert line.ratio == pytest.approx(line.ours_ms / line.theirs_ms)


def test_no_ratio_where_the_answers_differ() -> None:
    (line,) = hold(contest(4), turns=LEAST_TURNS)

    assert line.ratio is None
    assert REFUSED in table([line])


def test_a_floor_has_no_answer_to_differ() -> None:
    (line,) = hold(contest(4, answers=False), turns=LEAST_TURNS)

    assert line.ratio is not None


def test_fewer_turns_than_five_are_not_believed() -> None:
    taken: list[int] = []

    def slowly() -> int:
        taken.append(1)
        return sum(range(200_000))

    rivals = Rival("ours", slowly), (Rival("theirs", slowly),)
    hold(Contest("counting", "many", *rivals, "fast"), turns=1)

    # each side: at least one warming call, five turns and one for its answer
    assert len(taken) >= 2 * (1 + LEAST_TURNS + 1)
