from datetime import date
from typing import Any

import pytest

from app.domain.ages import Age
from app.domain.errors import Refused
from app.domain.postmenstrual import Gestation
from app.domain.reaching import ASK_ANYTHING, ASK_MEDICAL_CONTROL, CONFIRM, Reached, resolve
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, one_wide_band

FIVE = profile_from_document(five_categories()).categories
ONE_BAND = profile_from_document(one_wide_band()).categories  # 1 to 13 y, nothing else
TODAY = date(2026, 11, 25)


def reach(age: str | None = None, **more: Any) -> Reached:
    return resolve(FIVE, age=None if age is None else Age.parse(age), **more)


def key(reached: Reached) -> str | None:
    return None if reached.category is None else reached.category.key


@pytest.mark.parametrize(
    ("age", "category"),
    [
        ("0 d", "neonate"),
        ("27 d", "neonate"),
        ("28 d", "infant"),
        ("11.9 mo", "infant"),
        ("1 y", "young-child"),
        ("5 y", "child"),
        ("12.9 y", "child"),
        ("13 y", "adult"),
    ],
)
def test_the_age_decides(age: str, category: str) -> None:
    reached = reach(age)

    assert (key(reached), reached.doubts, reached.ask) == (category, (), None)
    assert reached.how == f"By age, {Age.parse(age)}: {category.capitalize()}."


@pytest.mark.parametrize(
    ("born", "on", "category", "words"),
    [
        (date(2025, 3, 1), date(2026, 2, 28), "infant", "11 mo"),
        (date(2025, 3, 1), date(2026, 3, 1), "young-child", "1 y"),
        (date(2024, 2, 29), date(2025, 2, 28), "infant", "11 mo"),
        (date(2024, 2, 29), date(2025, 3, 1), "young-child", "1 y"),
    ],
)
def test_by_birth_date_edges_fall_on_anniversaries(
    born: date, on: date, category: str, words: str
) -> None:
    reached = reach(born=born, on=on)

    assert key(reached) == category
    assert reached.how == f"By birth date, {words}: {category.capitalize()}."
    assert [one.category.key for one in reached.neighbours] == [
        "young-child" if category == "infant" else "infant"
    ]


@pytest.mark.parametrize(
    ("age", "neighbours"),
    [("27 d", [("infant", True)]), ("1 y", [("infant", False)]), ("3 y", [])],
)
def test_near_an_edge_the_category_across_it_is_named(
    age: str, neighbours: list[tuple[str, bool]]
) -> None:
    assert [(one.category.key, one.ahead) for one in reach(age).neighbours] == neighbours


@pytest.mark.parametrize(
    ("gestation", "age", "category"),
    [
        ("28", "56 d", "neonate"),
        ("28", "111 d", "neonate"),
        ("28", "112 d", "infant"),
        ("28", "5 mo", "infant"),
        ("40", "28 d", "infant"),
        ("42", "20 d", "neonate"),  # past 44 weeks, yet younger than 28 days
        ("24", "3 y", "young-child"),
    ],
)
def test_postmenstrual_age_makes_a_neonate_and_never_unmakes_one(
    gestation: str, age: str, category: str
) -> None:
    assert key(reach(age, gestation=Gestation.parse(gestation))) == category


def test_a_neonate_by_postmenstrual_age_is_told_until_when() -> None:
    reached = reach("56 d", gestation=Gestation(28))

    assert reached.how == (
        "Postmenstrual age 36+0 weeks, below 44 weeks: Neonate, whatever the age; "
        "44 weeks are reached in 56 d."
    )
    assert "44 weeks are reached, so the age decides" in reach("5 mo", gestation=Gestation(28)).how
    assert "Postmenstrual" not in reach("3 y", gestation=Gestation(24)).how


def test_a_birth_date_and_a_gestation_go_together() -> None:
    assert key(reach(born=date(2026, 9, 30), on=TODAY, gestation=Gestation(28))) == "neonate"


@pytest.mark.parametrize(
    ("age", "kg", "category", "way"),
    [
        ("16 y", 38, "adult", "light"),
        ("16 y", 43.1, "adult", "light"),
        ("16 y", 43.2, "adult", None),
        ("16 y", 83.3, "adult", None),
        ("16 y", 83.4, "adult", "heavy"),
        ("8 y", 60, "child", "heavy"),
        ("8 y", 38, "child", None),  # heavy, but no other category by weight
        ("8 y", 13, "child", "light"),
        ("8 y", 25, "child", None),
        ("5 mo", 3.5, "infant", "light"),
        ("5 mo", 7, "infant", None),
        ("27 d", 5.2, "neonate", None),
        ("27 d", 9, "neonate", "heavy"),
        ("12 y", 31, "child", None),  # light, but a child by weight too
        ("60 y", 31.5, "adult", "light"),
        ("60 y", 31.6, "adult", None),
        ("60 y", 200, "adult", None),
    ],
)
def test_a_weight_that_contradicts_is_told_and_the_age_decides(
    age: str, kg: float, category: str, way: str | None
) -> None:
    reached = reach(age, weight_kg=kg)

    assert key(reached) == category
    assert (reached.ask == CONFIRM) is (way is not None)
    assert [f"{kg:g} kg is {way} at" in doubt for doubt in reached.doubts] == [True] * bool(way)


def test_the_doubt_names_the_categories_that_the_weight_may_mean() -> None:
    assert [one.key for one in reach("16 y", weight_kg=38).possible] == ["child"]
    assert [one.key for one in reach("5 mo", weight_kg=3.5).possible] == ["neonate", "infant"]
    assert reach("8 y", weight_kg=25).possible == ()


def test_an_infant_as_light_as_a_newborn_is_asked_for_the_gestation() -> None:
    (doubt,) = reach("5 mo", weight_kg=3.5).doubts

    assert doubt == (
        "3.5 kg is light at 5 mo: check both. The age decides. "
        "A child born early can be so light: give the gestation at birth."
    )
    assert reach("5 mo", weight_kg=3.5, gestation=Gestation(26)).doubts == ()
    assert "give the gestation" not in reach("8 y", weight_kg=13).doubts[0]


@pytest.mark.parametrize(
    ("age", "kg", "gestation", "doubt"),
    [
        ("0 d", 1.0, "28", None),  # nothing to hold it against before the due date
        ("0 d", 1.0, "40", "1 kg is light at birth"),
        ("56 d", 9.0, "28", "9 kg is heavy at birth, by corrected age"),
        ("5 mo", 2.5, "36", "2.5 kg is light at 4 mo, by corrected age"),
    ],
)
def test_the_weight_of_a_child_born_early_is_held_against_the_corrected_age(
    age: str, kg: float, gestation: str, doubt: str | None
) -> None:
    doubts = reach(age, weight_kg=kg, gestation=Gestation.parse(gestation)).doubts

    assert [told.split(":")[0] for told in doubts] == ([doubt] if doubt else [])


@pytest.mark.parametrize(
    ("kg", "category", "possible", "asks"),
    [
        (1.5, "neonate", ["neonate"], True),
        (3.5, "neonate", ["neonate", "infant"], True),
        (7.0, "infant", ["infant"], False),
        (18.0, "young-child", ["young-child", "child"], True),
        (38.0, None, ["child"], True),
        (80.0, None, [], True),
    ],
)
def test_weight_decides_only_where_the_age_is_unknown(
    kg: float, category: str | None, possible: list[str], asks: bool
) -> None:
    reached = reach(weight_kg=kg)

    assert key(reached) == category
    assert [one.key for one in reached.possible] == possible
    assert (reached.ask is not None) is asks
    assert key(reach("13 y", weight_kg=kg)) == "adult"


def test_nothing_known_reaches_nothing_and_asks() -> None:
    assert reach() == Reached(None, "Age and weight are unknown.", ask=ASK_ANYTHING)
    assert key(reach(gestation=Gestation(28))) is None


def test_a_gestation_without_an_age_makes_the_weight_doubtful() -> None:
    early, term = (reach(weight_kg=3.0, gestation=Gestation(weeks)) for weeks in (30, 40))

    assert early.doubts == ("Born at 30+0 weeks: weight says little of the age.",)
    assert early.ask == "Ask the age or the birth date."
    assert (term.doubts, term.ask) == ((), None)


@pytest.mark.parametrize(
    "asked",
    [
        {"age": Age.parse("6 mo")},
        {"age": Age.parse("13 y"), "weight_kg": 50.0},
        {"age": Age.parse("56 d"), "gestation": Gestation(28)},
        {"weight_kg": 3.5},
        {"born": date(2010, 1, 1), "on": TODAY},
    ],
)
def test_where_the_policy_has_no_category_no_other_one_stands_in(asked: dict[str, Any]) -> None:
    reached = resolve(ONE_BAND, **asked)

    assert (reached.category, reached.ask) == (None, ASK_MEDICAL_CONTROL)


@pytest.mark.parametrize(
    ("asked", "reason"),
    [
        ({"born": date(2026, 11, 26), "on": TODAY}, "future"),
        ({"born": TODAY}, "today's date"),
        ({"born": TODAY, "on": TODAY, "age": Age.parse("1 d")}, "today's date"),
        ({"age": Age.parse("8 y"), "weight_kg": float("nan")}, "weight lies between"),
        ({"weight_kg": 0.0}, "weight lies between"),
    ],
)
def test_implausible_input_is_refused(asked: dict[str, Any], reason: str) -> None:
    with pytest.raises(Refused, match=reason):
        resolve(FIVE, **asked)
