"""Schemathesis asks every route of the API whatever its description allows, and what it does not."""

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_findings import a_finding
from tests.builders import a_draft, a_person
from tests.web.visits import Visits

EXAMPLES = 12
"""Of each route and of each kind; `python -m tests.api.test_everything_described 300` asks more."""
CHECKS = [
    not_a_server_error,
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
]


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Asked as somebody who holds every role, in an agency that has something of everything."""
    from app.storage.migrating import open_database
    from tests.builders import NOW

    folder = tmp_path_factory.mktemp("described")
    database = open_database(f"sqlite:///{folder}/m.sqlite3", now=NOW)
    visits = Visits(database, folder)
    yield visits
    database.dispose()
