from collections import Counter

import pytest

from app.domain.drill_results import drill_results
from app.domain.drills import ASK, CASES, Kind, all_cases, draw_cases
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document
from tests.crew_documents import OXYGEN

PROFILE = profile_from_document(a_document() | {"agency": "Skerry", "circumstances": [OXYGEN]})
EVERY = all_cases(PROFILE)


@pytest.mark.parametrize(
    ("key", "right"),
    [
        ("edge:28 d:before", "neonate"),
        ("edge:28 d:at", "infant"),
        ("edge:28 d:after", "infant"),
        ("edge:1 y:before", "infant"),
        ("edge:1 y:at", "preschool"),
        ("edge:13 y:at", "adult"),
        ("unknown", ASK),
        ("weight:90", ASK),
        ("doubt:8 y:60", "school"),
        ("doubt:16 y:38", "adult"),
        ("limit:preschool:heart-rate-high", "above 170 /min"),
        ("circumstance:on-oxygen:neonate:spo2-high", "above 94 %"),
    ],
)
def test_the_right_answer_is_what_the_policy_says(key: str, right: str) -> None:
    assert EVERY[key].right == right


def test_the_right_answer_is_among_the_choices_and_none_stands_twice() -> None:
    for case in EVERY.values():
        keys = [choice.key for choice in case.choices]
        assert case.right in keys, case.key
        assert len(set(keys)) == len(keys) >= 2, case.key


def test_a_seed_draws_the_same_cases_again_and_some_of_each_kind() -> None:
    first = draw_cases(PROFILE, "one")

    assert [one.key for one in draw_cases(PROFILE, "one")] == [one.key for one in first]
    assert [one.key for one in draw_cases(PROFILE, "two")] != [one.key for one in first]
    assert len({one.key for one in first}) == CASES
    counted = Counter(one.kind for one in first)
    assert counted[Kind.EDGE] == 8
    assert counted[Kind.UNKNOWN] == 1
    assert set(counted) == set(Kind)


def test_every_edge_of_the_scheme_is_drawn_sooner_or_later() -> None:
    drawn = {case.key for n in range(60) for case in draw_cases(PROFILE, str(n))}

    assert {key for key in EVERY if key.startswith("edge:")} <= drawn


def test_results_come_by_case_the_worst_first_with_their_interval() -> None:
    cases = {key: EVERY[key] for key in ("edge:28 d:before", "edge:28 d:at")}
    answered = [{"edge:28 d:before": "infant", "edge:28 d:at": "infant"}] * 3
    answered += [{"edge:28 d:before": "neonate", "gone": "x"}]

    found = drill_results(cases, answered)

    assert [(one.case.key, one.right, one.asked) for one in found.cases] == [
        ("edge:28 d:before", 1, 4),
        ("edge:28 d:at", 3, 3),
    ]
    assert found.cases[0].instead == (("Infant, 28 d to 1 y", 3),)
    assert 0.04 < found.cases[0].interval.low < 0.25 < found.cases[0].interval.high < 0.71
    assert (found.drills, found.asked, found.right) == (4, 7, 4)
