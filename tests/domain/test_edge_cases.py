from collections.abc import Sequence

import pytest

from app.domain.ages import Age, AgeSpan, days, years
from app.domain.edge_cases import EdgeCase, answer, edge_answers, edge_rows, just_under
from app.domain.errors import Refused
from app.domain.patient_categories import PatientCategory
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories


def five() -> Sequence[PatientCategory]:
    return profile_from_document(five_categories()).categories


def test_each_case_gets_its_answer_and_says_where_a_choice_is_needed() -> None:
    told = [(one.case.name, one.answer, one.mark) for one in edge_answers(five())]

    contradiction = "contradiction: a choice is needed"
    assert told == [
        ("27 days", "Neonate", ""),
        ("28 days exactly", "Infant", ""),
        ("The day before the first birthday", "Infant", ""),
        ("The first birthday", "Young-child", ""),
        ("8 y, 60 kg", "Child", contradiction),
        ("16 y, 38 kg", "Adult", contradiction),
        ("Born at 26 weeks, now 5 months, 3.5 kg", "Infant", ""),
        ("Age unknown, weight unknown", "No category", "a choice is needed"),
        ("Age unknown, 10 kg", "Young-child", "not certain: a choice is needed"),
    ]


def test_every_answer_says_how_it_is_reached() -> None:
    told = {one.case.name: one.reached.how for one in edge_answers(five())}

    assert all(told.values())
    assert "47+5 weeks" in told["Born at 26 weeks, now 5 months, 3.5 kg"]


def test_nobody_is_an_adult_by_default() -> None:
    unknown = answer(five(), EdgeCase("unknown"))

    assert unknown.must_choose
    assert unknown.reached.category is None


def test_a_gap_leaves_no_category_and_a_choice() -> None:
    gap = [one for one in five() if one.key != "infant"]

    found = answer(gap, EdgeCase("in the gap", days(100)))

    assert (found.answer, found.must_choose) == ("No category", True)


def test_what_is_implausible_is_refused() -> None:
    with pytest.raises(Refused):
        answer(five(), EdgeCase("too light", weight_kg=0.1))


def test_every_edge_is_asked_at_it_and_a_day_before() -> None:
    told = [(str(row.at), row.before.answer, row.after.answer) for row in edge_rows(five())]

    assert told == [
        ("28 d", "Neonate", "Infant"),
        ("1 y", "Infant", "Young-child"),
        ("5 y", "Young-child", "Child"),
        ("13 y", "Child", "Adult"),
    ]


def test_both_sides_of_a_gap_are_edges() -> None:
    bands = [
        PatientCategory("young", "Young", AgeSpan(days(0), days(300))),
        PatientCategory("old", "Old", AgeSpan(years(1), None)),
    ]

    told = [(row.before.answer, row.after.answer) for row in edge_rows(bands)]

    assert told == [("Young", "No category"), ("No category", "Old")]


def test_one_category_for_every_age_has_no_edge() -> None:
    assert edge_rows([PatientCategory("all", "All", AgeSpan(days(0), None))]) == ()


@pytest.mark.parametrize(
    ("edge", "under", "words"),
    [("28 d", "27 d", "a day before"), ("2 d", "1 d", "a day before"), ("1 d", "0.5 d", "0.5 d")],
)
def test_just_under_stays_under(edge: str, under: str, words: str) -> None:
    at = Age.parse(edge)
    bands = [
        PatientCategory("young", "Young", AgeSpan(days(0), at)),
        PatientCategory("old", "Old", AgeSpan(at, None)),
    ]

    assert just_under(at) < at
    assert str(just_under(at)) == under
    assert edge_rows(bands)[0].under_words == words
