"""Every route, of the pages and of the API, walked by every role, by programs and by strangers.

The table says which deed a route asks for; who may do it is asked of the domain. A route without a
row fails, and so does a row without its route.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role, Scope
from app.domain.permissions import ALLOWED, DEEDS_IN, Deed
from tests.access.of_api import API
from tests.access.of_pages import PAGES
from tests.access.rows import MEMBER, OPEN, Row
from tests.access.sent import SENT, sent_to
from tests.access.world import V1, World, demo_world, every_route, filled
from tests.web.test_every_address import OPEN_TO_EVERYBODY

ROWS: dict[tuple[str, str], Row] = {**PAGES, **API}
DEEDS = [(place, row) for place, row in ROWS.items() if isinstance(row, Deed)]
OF_AN_AGENCY = [place for place, row in ROWS.items() if row != OPEN]


@pytest.fixture(scope="module")
def world(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    with demo_world(sqlite_template, tmp_path_factory.mktemp("world")) as found:
        yield found


def named(place: tuple[str, str]) -> str:
    return " ".join(place)


def ask(world: World, client: TestClient, place: tuple[str, str], **also: object) -> Response:
    method, path = place
    sent = {**sent_to(world.app, method, path)}
    sent["headers"] = {**sent.get("headers", {}), **dict(also.get("headers", {}) or {})}  # type: ignore[call-overload]
    return client.request(method, filled(path, world.there), **sent)


def test_every_route_has_its_row_and_every_row_its_route() -> None:
    assert sorted(ROWS) == every_route()
    assert sorted(set(SENT) - set(ROWS)) == []


def test_every_deed_has_its_roles_and_is_asked_for_somewhere() -> None:
    assert set(ALLOWED) == set(Deed)
    assert {row for _, row in DEEDS} == set(Deed)


def test_what_is_open_is_known_to_be_open() -> None:
    opened = {path for (_, path), row in ROWS.items() if row == OPEN and "{agency}" in path}

    assert {path for path in opened if not path.startswith(V1)} == OPEN_TO_EVERYBODY
    assert {path for path in opened if path.startswith(V1)} == {f"{V1}/{{agency}}/limits"}


@pytest.mark.parametrize(
    ("place", "deed"), DEEDS, ids=lambda one: named(one) if isinstance(one, tuple) else one.name
)
def test_only_the_roles_of_the_table_come_in(
    world: World, place: tuple[str, str], deed: Deed
) -> None:
    refusal = f"You may not {deed.value}."
    for role in [*(set(Role) - ALLOWED[deed]), *ALLOWED[deed]]:  # who may not comes first
        answer = ask(world, world.by_role[role], place)

        if role in ALLOWED[deed]:
            assert answer.status_code != 401, role
            assert answer.status_code < 500, role
            assert "You may not" not in answer.text, role
        else:
            assert answer.status_code == 403, role
            assert refusal in answer.text, role


@pytest.mark.parametrize("place", OF_AN_AGENCY, ids=named)
def test_a_stranger_comes_in_nowhere(world: World, place: tuple[str, str]) -> None:
    answer = ask(world, world.nobody, place)

    if answer.status_code == 303:
        assert answer.headers["location"].startswith("/sign-in?next=/")
    else:
        assert answer.status_code == 401


@pytest.mark.parametrize("place", OF_AN_AGENCY, ids=named)
def test_another_agency_finds_nothing_at_ours(world: World, place: tuple[str, str]) -> None:
    assert ask(world, world.outsider, place).status_code == 404


@pytest.mark.parametrize("place", OF_AN_AGENCY, ids=named)
def test_another_agency_finds_nothing_of_ours_at_its_own(
    world: World, place: tuple[str, str]
) -> None:
    """By the numbers, tags and names of our things, under its own address, with every role."""
    method, path = place
    there = {**world.there, "agency": "elsewhere"}

    answer = world.outsider.request(method, filled(path, there), **sent_to(world.app, method, path))

    assert answer.status_code < 500
    assert [word for word in world.ours if word in answer.text] == []


@pytest.mark.parametrize("scope", Scope)
@pytest.mark.parametrize("place", sorted(API), ids=named)
def test_a_program_does_what_its_scopes_say_and_no_more(
    world: World, place: tuple[str, str], scope: Scope
) -> None:
    row = API[place]

    answer = ask(world, world.nobody, place, headers=world.bearing(scope))

    if row == OPEN or row in DEEDS_IN[scope]:
        assert answer.status_code not in (401, 403)
    elif row != MEMBER:
        assert answer.status_code == 403
        assert "This token does not allow" in answer.text
