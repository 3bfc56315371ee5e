"""Schemathesis asks every route of the API whatever its description allows, and what it does not:
no answer is a failure of ours, and each has a status, a kind and a shape that are described."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from sqlmodel import Session

from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.storage.migrating import open_database
from app.web.sessions import COOKIE
from tests.actions.test_findings import a_finding
from tests.builders import NOW, a_draft, a_person_of_every_role
from tests.web.visits import Visits

EXAMPLES = int(os.environ.get("MARCHSTONE_EXAMPLES", "4"))
"""Of each route and kind; a person in doubt sets more."""
CHECKS = [
    not_a_server_error,
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
]
KNOWN = {"agency": "skerry", "number": 1, "tag": "boat-3", "comment": 1, "vital": "heart-rate"}


@pytest.fixture(scope="module")
def visits(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visits]:
    """An agency that has something of everything."""
    folder = tmp_path_factory.mktemp("described")
    database = open_database(f"sqlite:///{folder}/m.sqlite3", now=NOW)
    visits = Visits(database, folder)
    visits.seed(something_of_everything)
    yield visits
    database.dispose()


def something_of_everything(tx: Session) -> None:
    a_finding(tx, FindingStatus.CONTAINED)
    a_draft(tx)
    a_person_of_every_role(tx)


def operations(visits: Visits) -> Iterator[Any]:
    schema: Any = schemathesis.openapi.from_asgi("/api/v1/openapi.json", visits.app)
    for found in schema.get_all_operations():
        yield found.ok()


def faults_of(operation: Any, mode: GenerationMode, token: str) -> set[str]:
    found: set[str] = set()

    @settings(
        max_examples=EXAMPLES,
        database=None,
        deadline=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: Any) -> None:
        case.path_parameters = _known(case.path_parameters, mode)
        case.headers.pop("Authorization", None)  # the cookie tells who asks
        answer = case.call(cookies={COOKIE: token})
        try:
            case.validate_response(answer, checks=CHECKS)
        except FailureGroup as group:
            found.update(f"{operation.label}: {one}" for one in group.exceptions)

    ask()
    return found


def _known(given: Any, mode: GenerationMode) -> dict[str, Any]:
    """What is there, where the description is kept to; else only the agency is."""
    known = KNOWN if mode is GenerationMode.POSITIVE else {"agency": KNOWN["agency"]}
    return {name: known.get(name, value) for name, value in (given or {}).items()}


@pytest.mark.parametrize("mode", list(GenerationMode), ids=lambda mode: mode.value)
def test_every_answer_is_described(visits: Visits, mode: GenerationMode) -> None:
    alma, told = visits.of(Role.MEDICAL_DIRECTOR, "Alma"), set[str]()

    for operation in operations(visits):
        told |= faults_of(operation, mode, alma.cookies[COOKIE])

    assert told == set()


def test_no_route_is_left_out(visits: Visits) -> None:
    assert len(list(operations(visits))) > 50
