import base64
import gzip
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.actions.agency_choices import choose
from app.domain.agency_choices import AgencyChoices
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.domain.weight_ages import HEAVY, LIGHT, MEDIANS
from app.storage.database import Database
from tests.builders import DAY, a_document, a_person, a_signed_revision
from tests.crew_documents import PETREL, withdrawn
from tests.web.visits import Visits

COPY = "/skerry/limits/copy.json"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    return visits


@pytest.fixture
def anybody(visits: Visits) -> TestClient:
    return TestClient(visits.app)


def content(client: TestClient) -> dict[str, Any]:
    found: dict[str, Any] = client.get(COPY).json()
    return found


def test_it_holds_every_category_as_the_page_shows_it(anybody: TestClient) -> None:
    found = content(anybody)

    assert found["revision"] == 1
    assert [one["key"] for one in found["categories"]] == list(found["limits"])
    for key, pieces in found["limits"].items():
        page = " ".join(anybody.get("/skerry/limits", params={"category": key}).text.split())
        assert pieces[""] in page


def test_nobody_needs_to_sign_in_and_no_person_is_in_it(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR, "Dana Gray")

    text = dana.get(COPY).text + dana.get("/skerry/limits/kept").text

    assert "Sign out" not in text
    assert dana.get(COPY).content == TestClient(visits.app).get(COPY).content


def test_its_digest_tells_whether_all_of_it_came(anybody: TestClient) -> None:
    answer = anybody.get(COPY)

    digest = base64.b64encode(hashlib.sha256(answer.content).digest()).decode()
    assert answer.headers["repr-digest"] == f"sha-256=:{digest}:"


def test_a_phone_that_has_it_is_told_so(anybody: TestClient) -> None:
    tag = anybody.get(COPY).headers["etag"]

    again = anybody.get(COPY, headers={"If-None-Match": tag})

    assert (again.status_code, again.content) == (304, b"")


def test_over_the_wire_it_is_small(visits: Visits) -> None:
    with TestClient(visits.app) as client, client.stream("GET", COPY) as answer:
        sent = b"".join(answer.iter_raw())

    assert answer.headers["content-encoding"] == "gzip"
    assert json.loads(gzip.decompress(sent))["format"] == "marchstone-limits-copy/1"
    assert len(sent) < 60_000


def test_when_the_next_revision_is_known_the_copy_knows_its_end(visits: Visits) -> None:
    anybody = TestClient(visits.app)
    before = content(anybody)["ends_at"]
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=visits.now + DAY))

    assert before is None
    assert content(anybody)["ends_at"].startswith("2026-03-03")


def test_a_new_revision_is_in_it_at_once(visits: Visits) -> None:
    anybody = TestClient(visits.app)
    first = content(anybody)
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=visits.now + DAY))
    visits.wait(DAY)

    assert (first["revision"], content(anybody)["revision"]) == (1, 2)


def test_after_a_withdrawal_it_holds_no_limit(visits: Visits) -> None:
    anybody = TestClient(visits.app)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    dana.post("/skerry/policy/1/withdraw", data={"note": "a mistake"})

    found = content(anybody)

    assert found["revision"] is None
    assert "limits" not in found
    assert "Use your printed card" in found["none"]
    assert RevisionStatus.WITHDRAWN.value in dana.get("/skerry/policy").text


def test_what_was_in_force_and_withdrawn_is_in_it_as_withdrawn(visits: Visits) -> None:
    visits.now += DAY
    visits.seed(lambda tx: withdrawn(tx, now=visits.now))

    found = content(TestClient(visits.app))

    assert (found["revision"], found["withdrawn"]) == (1, True)
    assert "not in force" in found["standing"]
    assert "alarm below" in found["limits"]["infant"][""]


def test_it_knows_its_last_day_until_the_page_says_so_itself(visits: Visits) -> None:
    anybody = TestClient(visits.app)
    first = content(anybody)
    visits.wait(366 * DAY)
    late = content(anybody)

    assert (first["expires_after"], first["standing"]) == ("2027-03-02", "")
    assert late["expires_after"] is None
    assert "Expired on 2 Mar 2027" in late["standing"]


def test_every_model_has_its_words_for_every_category(visits: Visits) -> None:
    document = a_document() | {"models": {"petrel": PETREL}}
    visits.seed(lambda tx: a_signed_revision(tx, document=document))

    found = content(TestClient(visits.app))

    assert set(found["models"]["petrel"]) == set(found["limits"])
    petrel = found["models"]["petrel"]
    assert "choose preset <b>SMALL</b>" in petrel["preschool"]
    assert "shows above 140 /min for the policy’s above 150 /min" in petrel["school"]


def test_the_worker_keeps_files_by_the_hash_of_their_content(anybody: TestClient) -> None:
    answer = anybody.get("/sw.js")

    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["service-worker-allowed"] == "/"
    assert '"/static/crew.js?v=' in answer.text
    listed = answer.text.split("new Set(")[1].split(");")[0]
    for address in json.loads(listed):
        assert anybody.get(address).status_code == 200


def test_an_unknown_agency_has_no_copy(anybody: TestClient) -> None:
    assert anybody.get("/nowhere/limits/copy.json").status_code == 404


def test_what_the_agency_chooses_is_in_it_at_once(visits: Visits) -> None:
    anybody = TestClient(visits.app)
    before = content(anybody)["fresh_hours"]
    choices = AgencyChoices(copy_hours=12)
    visits.seed(lambda tx: choose(tx, choices=choices, by=a_person(tx), now=visits.now))

    assert (before, content(anybody)["fresh_hours"]) == (24, 12)


def test_a_rounded_weight_parts_typed_ones_as_the_whole_one_does(anybody: TestClient) -> None:
    """A weight is typed with three decimals; the phone's tables have six."""
    kept = anybody.get(COPY).json()["weights"]

    for name, curve in (("medians", MEDIANS), ("light", LIGHT), ("heavy", HEAVY)):
        for told, edge in zip(kept[name], curve, strict=True):
            near = [round(edge, 3) + step / 1000 for step in (-1, 0, 1)]
            assert [kg >= told for kg in near] == [kg >= edge for kg in near]
            assert [kg <= told for kg in near] == [kg <= edge for kg in near]
