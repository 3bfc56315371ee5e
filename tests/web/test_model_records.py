from copy import deepcopy
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from app.domain.people import Role
from app.lookups.policy import open_revision
from app.storage.database import Database
from tests.builders import NOW, a_device, a_document, a_draft, a_signed_revision, an_agency
from tests.web.visits import Visits

MODEL = {
    "presets": {"ALL": {"carries": "adult", "serves": ["adult"]}},
    "grid": {"heart-rate-low": {"from": 20, "to": 250, "step": 5, "can_be_off": True}},
    "etco2_unit": "kPa",
    "retention_min": 2,
}
TYPED = {
    "label": "Dunlin",
    "etco2_unit": "kPa",
    "retention_min": "2",
    "presets": "ALL\n",
    "standby": "keeps",
    "power-off": "reverts",
    "software": "3.1",
    "tested_on": "2026-03-01",
    "tested_by": "Tess",
    "audible": "heard at the seat",
    "heart-rate-low.from": "20",
    "heart-rate-low.to": "250",
    "heart-rate-low.step": "5",
    "heart-rate-low.off": "yes",
}


def with_model() -> dict[str, Any]:
    document = deepcopy(a_document())
    document["models"] = {"dunlin": deepcopy(MODEL)}
    return document


def seeded(tx: Session) -> None:
    a_signed_revision(tx, document=with_model())
    a_device(tx)


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(seeded)
    return visits


def test_a_model_is_recorded_and_agrees_with_the_policy(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    answer = tess.post("/skerry/models/dunlin", data=TYPED)

    assert answer.status_code == 303
    assert "agrees" in tess.get("/skerry/models").text
    page = visits.of(Role.CREW).get("/skerry/models/dunlin").text
    assert "keeps what was set by hand" in page
    assert "1 Mar 2026, software 3.1, Tess" in page
    assert 'action="/skerry/models/dunlin"' not in page


def test_where_it_differs_both_pages_say_so(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    tess.post("/skerry/models/dunlin", data=TYPED | {"retention_min": "8"})

    told = "Keeps changes for 8 min by the register, for 2 min by the policy."
    assert "differs in 1" in tess.get("/skerry/models").text
    assert told in tess.get("/skerry/models/dunlin").text
    visits.seed(lambda tx: a_draft(tx, document=with_model()))
    anna = visits.of(Role.AUTHOR)
    page = anna.get("/skerry/policy/2/models/dunlin").text
    assert told in page
    assert "/skerry/policy/2/models/dunlin/from-register" in page


def test_a_draft_takes_it_from_the_register(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)
    changed = {"retention_min": "8", "etco2_unit": "mm[Hg]", "heart-rate-low.step": "1"}
    tess.post("/skerry/models/dunlin", data=TYPED | changed)
    draft = visits.seed(lambda tx: a_draft(tx, document=with_model()))
    anna = visits.of(Role.AUTHOR)
    answer = anna.post(
        "/skerry/policy/2/models/dunlin/from-register", data={"edit_version": draft.edit_version}
    )

    assert answer.status_code == 303
    model = visits.seed(
        lambda tx: open_revision(tx, agency_id=an_agency(tx).id, number=2, now=NOW)
    ).profile.models["dunlin"]
    assert (model.retention_min, model.etco2_unit) == (Decimal(8), "mm[Hg]")
    assert model.grid["heart-rate-low"].step == 1
    assert [preset.key for preset in model.presets] == ["ALL"]


def test_nothing_is_taken_over_a_newer_edit(visits: Visits) -> None:
    visits.of(Role.TECHNICIAN).post("/skerry/models/dunlin", data=TYPED | {"retention_min": "8"})
    draft = visits.seed(lambda tx: a_draft(tx, document=with_model()))
    anna = visits.of(Role.AUTHOR)
    stale = {"edit_version": draft.edit_version + 7}

    answer = anna.post("/skerry/policy/2/models/dunlin/from-register", data=stale)
    assert answer.status_code == 409


def test_what_the_register_does_not_hold_is_not_copied(visits: Visits) -> None:
    visits.seed(lambda tx: a_draft(tx, document=with_model()))

    answer = visits.of(Role.AUTHOR).post("/skerry/policy/2/models/dunlin/from-register")
    assert answer.status_code == 404


def test_the_form_can_be_filled_in_from_the_policy(visits: Visits) -> None:
    tess = visits.of(Role.TECHNICIAN)

    assert 'name="heart-rate-low.to" type="text"' in tess.get("/skerry/models/dunlin").text
    page = tess.get("/skerry/models/dunlin?copy=policy").text
    assert "Nothing is recorded before you save" in page
    assert 'value="250"' in page


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({"label": ""}, "this must not be empty"),
        ({"retention_min": "two"}, "write minutes as a number"),
        ({"tested_on": "2026-03-03"}, "cannot be in the future"),
        ({"etco2_unit": "bar"}, "choose one"),
        ({"heart-rate-low.to": "19"}, "must not be below from"),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(
    visits: Visits, instead: dict[str, str], told: str
) -> None:
    tess = visits.of(Role.TECHNICIAN)
    answer = tess.post("/skerry/models/dunlin", data=TYPED | instead)

    assert answer.status_code == 422
    assert told in answer.text
    assert "heard at the seat" in answer.text
    assert "nothing is recorded" in tess.get("/skerry/models").text


def test_a_model_that_nobody_knows_can_be_recorded_by_those_who_may(visits: Visits) -> None:
    assert visits.of(Role.TECHNICIAN).get("/skerry/models/knot").status_code == 200
    assert visits.of(Role.CREW).get("/skerry/models/knot").status_code == 404
    assert visits.of(Role.CREW).post("/skerry/models/dunlin", data=TYPED).status_code == 403
