from datetime import timedelta

import pytest

from app.domain.people import Person, Role
from app.domain.seen_revisions import NOT_TOLD, Seen, reach
from tests.builders import DAY, NOW

LATER = NOW + DAY


def crew(number: int, *roles: Role) -> Person:
    return Person(number, 1, "skerry", f"p{number}", f"P{number}", frozenset(roles or {Role.CREW}))


def test_only_crew_count_whoever_else_has_seen_it() -> None:
    people = [crew(1), crew(2, Role.TECHNICIAN), crew(3, Role.CREW, Role.EDUCATOR)]
    seen = [Seen(2, "North", NOW), Seen(3, "North", NOW)]

    found = reach(people, seen, {}, in_force_at=LATER)

    assert (found.people, found.seen, found.before) == (2, 1, 1)


def test_who_has_not_is_named_at_the_station_last_known() -> None:
    people = [crew(1), crew(2), crew(3)]

    found = reach(people, [Seen(1, "North", NOW)], {1: "South", 2: "North"}, in_force_at=NOW)

    told = [(one.station, one.seen, one.people, one.missing) for one in found.stations]
    assert told == [("North", 1, 2, ("P2",)), (NOT_TOLD, 0, 1, ("P3",))]


@pytest.mark.parametrize(("before", "enough"), [(18, False), (19, True), (20, True)])
def test_enough_is_95_percent_before_it_comes_into_force(before: int, enough: bool) -> None:
    people = [crew(number) for number in range(20)]
    seen = [Seen(n, "North", NOW if n < before else LATER) for n in range(20)]

    found = reach(people, seen, {}, in_force_at=LATER)

    assert found.enough_before is enough
    assert found.everybody


@pytest.mark.parametrize(("days", "late"), [(13.99, False), (14, True)])
def test_everybody_should_have_seen_it_within_14_days(days: float, late: bool) -> None:
    found = reach([crew(1)], [], {}, in_force_at=NOW)

    assert found.late(NOW + timedelta(days=days)) is late


def test_nobody_is_not_enough_of_nobody() -> None:
    assert not reach([], [], {}, in_force_at=NOW).enough_before
