from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft, a_signed_revision
from tests.storage.ledgers import deeds
from tests.web.policies import DRAFT, POLICY, stored
from tests.web.visits import Visits

MODELS = f"{DRAFT}/models"
DUNLIN = f"{MODELS}/dunlin"
RATE = {"from": 30, "to": 160, "step": 5, "can_be_off": False}
GAS = {"from": 0, "to": 99, "step": 1, "can_be_off": True}


def a_document_with_models() -> dict[str, Any]:
    """The dunlin has a preset for everybody but adults; the petrel shows kPa."""
    document = a_document({"heart-rate-high": 185})
    keys = [one["key"] for one in document["categories"]]
    small = {"carries": "preschool", "serves": [key for key in keys if key != "adult"]}
    document["models"] = {
        "dunlin": {
            "presets": {"SMALL": small},
            "grid": {"heart-rate-high": RATE, "etco2-high": GAS},
            "etco2_unit": "mm[Hg]",
            "retention_min": 2,
        },
        "petrel": {"presets": {}, "grid": {"heart-rate-low": RATE}, "etco2_unit": "kPa"},
    }
    return document


def a_draft_with_models(tx: Session) -> None:
    a_draft(tx, document=a_document_with_models())


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_draft_with_models)
    return visits


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    return visits.of(Role.AUTHOR)


def dunlin(visits: Visits) -> dict[str, Any]:
    model: dict[str, Any] = stored(visits)["models"]["dunlin"]
    return model


def test_what_a_model_leaves_out_is_told_first(anna: TestClient) -> None:
    page = anna.get(MODELS).text

    assert "on a dunlin has no preset (Adult," in page
    assert "of the policy cannot be set on it" in page


def test_the_rendered_preset_stands_beside_the_policy(anna: TestClient) -> None:
    page = anna.get(DUNLIN).text

    assert "cannot be set: nearest is 160 /min, which alarms earlier" in page
    assert "dunlin cannot be set as the policy says" in page
    assert "no preset serves it, so everything is set from the card" in page


def test_a_model_is_added_and_removed(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(MODELS, data={"key": " turnstone ", "edit_version": "1"})

    assert answer.headers["location"] == f"{MODELS}/turnstone"
    assert "No preset yet" in anna.get(f"{MODELS}/turnstone").text

    anna.post(f"{MODELS}/turnstone/remove", data={"edit_version": "2"})

    assert set(stored(visits)["models"]) == {"dunlin", "petrel"}
    with visits.database.reading() as tx:
        assert deeds(tx)[-2:] == ["edit the draft", "edit the draft"]


@pytest.mark.parametrize(
    ("key", "reason"),
    [("", "write the name"), ("dunlin", "stands already"), ("Old One", "must be small letters")],
)
def test_what_is_no_new_model_is_told_beside_the_field(
    anna: TestClient, key: str, reason: str
) -> None:
    page = anna.post(MODELS, data={"key": key, "edit_version": "1"})

    assert page.status_code == 422
    assert reason in page.text
    assert 'aria-describedby="key-wrong"' in page.text
    assert f'name="key" type="text" autocomplete="off" value="{key}"' in page.text


def test_another_unit_clears_what_co2_can_be_set_to(anna: TestClient, visits: Visits) -> None:
    facts = {"etco2_unit": "kPa", "retention_min": "", "edit_version": "1"}

    anna.post(f"{DUNLIN}/facts", data=facts)

    assert set(dunlin(visits)["grid"]) == {"heart-rate-high"}
    assert "retention_min" not in dunlin(visits)


@pytest.mark.parametrize(
    ("instead", "reason"),
    [
        ({"retention_min": "soon"}, "write minutes as a number"),
        ({"retention_min": "-1"}, "write minutes as a number"),
        ({"etco2_unit": "psi"}, "choose one"),
    ],
)
def test_wrong_facts_stay_typed(anna: TestClient, instead: dict[str, str], reason: str) -> None:
    facts = {"etco2_unit": "mm[Hg]", "retention_min": "2", "edit_version": "1"}

    page = anna.post(f"{DUNLIN}/facts", data={**facts, **instead})

    assert page.status_code == 422
    assert reason in page.text
    assert 'aria-describedby="facts-' in page.text


def test_a_preset_is_added_and_the_proof_follows(anna: TestClient, visits: Visits) -> None:
    preset = {"name": "5/12 BIG", "carries": "adult", "serves": ["adult"], "edit_version": "1"}

    anna.post(f"{DUNLIN}/preset", data=preset)

    assert dunlin(visits)["presets"]["5/12 BIG"] == {"carries": "adult", "serves": ["adult"]}
    assert "Every category reaches exactly one preset." in anna.get(DUNLIN).text


def test_a_preset_is_renamed_and_removed(anna: TestClient, visits: Visits) -> None:
    preset = {"of": "SMALL", "name": "LITTLE", "carries": "infant", "serves": ["infant"]}

    anna.post(f"{DUNLIN}/preset", data={**preset, "edit_version": "1"})

    assert dunlin(visits)["presets"] == {"LITTLE": {"carries": "infant", "serves": ["infant"]}}

    anna.post(f"{DUNLIN}/preset/remove", data={"of": "LITTLE", "edit_version": "2"})

    assert dunlin(visits)["presets"] == {}


@pytest.mark.parametrize("of", ["", "SMALL"])
@pytest.mark.parametrize(
    ("instead", "name", "reason"),
    [
        ({"name": " "}, "name", "write the name"),
        ({"carries": ""}, "carries", "choose one"),
        ({"serves": []}, "serves", "choose at least one"),
        ({"carries": "giants"}, "carries", "is no category of this profile"),
        ({"name": "n" * 61}, "", "at most 60"),
    ],
)
def test_a_wrong_preset_stays_typed(
    anna: TestClient, of: str, instead: dict[str, Any], name: str, reason: str
) -> None:
    preset = {"of": of, "name": "TINY", "carries": "infant", "serves": ["infant"]}

    page = anna.post(f"{DUNLIN}/preset", data={**preset, **instead, "edit_version": "1"})

    assert page.status_code == 422
    assert reason in page.text
    form = "preset-1" if of else "preset-new"
    assert not name or f'aria-describedby="{form}-{name}-wrong"' in page.text


def grid_form(**cells: str) -> dict[str, str]:
    """`heart_rate_low__from` stands for `heart-rate-low.from`."""
    typed = {key.replace("__", ".").replace("_", "-"): value for key, value in cells.items()}
    return {**typed, "edit_version": "1"}


def test_the_grid_is_saved_as_a_whole(anna: TestClient, visits: Visits) -> None:
    typed = grid_form(
        temperature_high__from="30",
        temperature_high__to="42",
        temperature_high__step="0.5",
        temperature_high__off="yes",
        asystole__off="no",
    )

    answer = anna.post(f"{DUNLIN}/grid", data=typed)

    assert answer.headers["location"] == f"{DUNLIN}#grid"
    assert dunlin(visits)["grid"] == {
        "temperature-high": {"from": 30, "to": 42, "step": 0.5, "can_be_off": True},
        "asystole": {"from": 0, "to": 0, "step": 1, "can_be_off": False},
    }
    assert '<option value="no" selected>always on' in anna.get(DUNLIN).text


@pytest.mark.parametrize(
    ("start", "end", "step", "part", "reason"),
    [
        ("", "200", "5", "from", "is missing"),
        ("30", "", "5", "to", "is missing"),
        ("30", "200", "", "step", "is missing"),
        ("thirty", "200", "5", "from", "write a number such as 30"),
        ("30", "200", "0", "step", "must be more than 0"),
        ("30", "29", "1", "to", "must not be below from"),
        ("30", "200", "4", "to", "no whole number of steps from 30"),
    ],
)
def test_a_wrong_cell_is_told_in_its_place_and_every_cell_stays_typed(
    anna: TestClient, visits: Visits, start: str, end: str, step: str, part: str, reason: str
) -> None:
    before = stored(visits)
    cells = {"from": start, "to": end, "step": step}
    typed = {f"heart-rate-low.{name}": cell for name, cell in cells.items()}

    page = anna.post(f"{DUNLIN}/grid", data={**typed, "edit_version": "1"})

    assert page.status_code == 422
    assert f'id="grid-heart-rate-low.{part}-wrong">{reason}' in page.text
    assert all(f'value="{cell}"' in page.text for cell in cells.values())
    assert stored(visits) == before


def test_a_grid_is_shown_before_it_is_copied_from_another_model(
    anna: TestClient, visits: Visits
) -> None:
    before = stored(visits)

    page = anna.get(f"{DUNLIN}/copy", params={"source": "petrel"}).text

    assert "3 alarms would change, and EtCO₂ would be shown in kPa" in page
    assert stored(visits) == before

    anna.post(f"{DUNLIN}/copy", data={"revision": "1", "source": "petrel", "edit_version": "1"})

    assert dunlin(visits)["grid"] == {"heart-rate-low": RATE}
    assert dunlin(visits)["etco2_unit"] == "kPa"
    assert set(dunlin(visits)["presets"]) == {"SMALL"}


def test_a_grid_is_copied_from_another_revision_as_it_was_shown(visits: Visits) -> None:
    other = a_document_with_models()
    other["models"]["dunlin"]["grid"] = {"spo2-low": GAS}
    source = visits.seed(lambda tx: a_draft(tx, document=other))
    anna = visits.of(Role.AUTHOR)
    entry = {"revision": "2", "source": "dunlin", "edit_version": "1"}

    refused = anna.post(f"{DUNLIN}/copy", data={**entry, "fingerprint": "0" * 64})
    copied = anna.post(f"{DUNLIN}/copy", data={**entry, "fingerprint": source.fingerprint})

    assert refused.status_code == 409
    assert "was changed since it was shown" in refused.text
    assert copied.status_code == 303
    assert dunlin(visits)["grid"] == {"spo2-low": GAS}


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("", {"key": "turnstone"}),
        ("/dunlin/facts", {"etco2_unit": "kPa", "retention_min": "3"}),
        ("/dunlin/preset", {"name": "BIG", "carries": "adult", "serves": "adult"}),
        ("/dunlin/preset/remove", {"of": "SMALL"}),
        ("/dunlin/grid", {"spo2-low.from": "50", "spo2-low.to": "99", "spo2-low.step": "1"}),
        ("/dunlin/copy", {"revision": "1", "source": "petrel"}),
        ("/dunlin/remove", {}),
    ],
)
def test_the_second_of_two_people_sees_both_versions_and_may_save_on_top(
    visits: Visits, anna: TestClient, path: str, typed: dict[str, str]
) -> None:
    anna.post(
        f"{MODELS}/petrel/facts",
        data={"etco2_unit": "kPa", "retention_min": "9", "edit_version": "1"},
    )
    before = stored(visits)

    second = visits.of(Role.MEDICAL_DIRECTOR).post(
        MODELS + path, data={**typed, "edit_version": "1"}
    )

    assert second.status_code == 409
    assert 'name="edit_version" value="2"' in second.text
    assert stored(visits) == before
    assert anna.post(MODELS + path, data={**typed, "edit_version": "2"}).status_code == 303


@pytest.mark.parametrize("role", [Role.CREW, Role.REVIEWER, Role.FLEET_MANAGER])
def test_who_may_not_edit_sees_it_without_forms(visits: Visits, role: Role) -> None:
    somebody = visits.of(role)

    page = somebody.get(DUNLIN)

    assert page.status_code == 200
    assert 'method="post" action="/skerry/policy' not in page.text
    for path in ("", "/dunlin/facts", "/dunlin/preset", "/dunlin/grid", "/dunlin/remove"):
        assert somebody.post(MODELS + path, data={"edit_version": "1"}).status_code == 403
    assert somebody.get(f"{DUNLIN}/copy").status_code == 403


def test_a_signed_revision_is_shown_and_not_edited(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    anna = visits.of(Role.AUTHOR)

    assert "Add a model" not in anna.get(f"{POLICY}/2/models").text
    answer = anna.post(f"{POLICY}/2/models", data={"key": "turnstone", "edit_version": "1"})
    assert answer.status_code == 409


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/plover"),
        ("GET", "/plover/copy"),
        ("POST", "/plover/facts"),
        ("POST", "/plover/grid"),
        ("POST", "/plover/remove"),
    ],
)
def test_a_model_that_is_not_there_is_not_found(anna: TestClient, method: str, path: str) -> None:
    answer = anna.request(method, MODELS + path)

    assert answer.status_code == 404
