import json
import re
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft
from tests.web.policies import an_unsafe_draft, stored
from tests.web.visits import Visits

BANDS = "/skerry/policy/1/bands"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(an_unsafe_draft)
    return visits


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    return visits.of(Role.AUTHOR)


def confirming(page: Response, *labels: str) -> dict[str, Any]:
    """What the button sends with these bands ticked."""
    form = page.text.split('<form method="post" action="/skerry/policy/1/bands"')[1]
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    marks = re.findall(r'name="confirm" value="([^"]+)"[^>]*> <span><strong>([^<]+)</strong>', form)
    return hidden | {"confirm": [mark for mark, label in marks if label in labels]}


def test_todays_bands_stand_beside_the_best_of_every_number(anna: TestClient) -> None:
    page = anna.get(BANDS).text

    assert "Today, with 5 bands, 5 /min of danger" in page
    assert "With 5 bands 1 /min of caution can pass unannounced" in page
    for count in range(1, 9):
        assert f">Best of {count}</a>" in page
    assert "another band buys nothing" in page
    assert "no advice for a patient" in page


def test_number_weights_and_aim_are_chosen_in_the_address(anna: TestClient) -> None:
    page = anna.get(BANDS, params={"bands": "3", "aim": "mean", "vital": "respiratory-rate"}).text

    assert "With 3 bands" in page
    assert "The mean month costs" in page
    assert 'value="60-216:10:30"' in page


def test_the_drawing_shows_the_proposal_and_what_stands(anna: TestClient) -> None:
    page = anna.get(BANDS, params={"bands": "3"}).text

    assert page.count('class="lane"') == 1
    assert page.count('class="held') >= 2
    assert 'role="img" aria-label="Heart rate, /min.' in page


@pytest.mark.parametrize(
    ("params", "told"),
    [
        ({"danger": "many"}, 'id="danger-wrong">write a number from 0 to 1000'),
        ({"caution": "nan"}, 'id="caution-wrong">write a number from 0 to 1000'),
        ({"until": "18"}, 'id="until-wrong">'),
        ({"until": "28 d"}, 'id="until-wrong">give whole months or years'),
        ({"bands": "9"}, 'id="bands-wrong">choose 1 to 8'),
        ({"aim": "best"}, 'id="aim-wrong">choose one'),
        ({"vital": "humour"}, 'id="vital-wrong">choose one'),
        ({"vital": "spo2"}, "No centiles are held for spo₂"),
    ],
)
def test_what_cannot_be_weighed_is_told_and_stays_typed(
    anna: TestClient, params: dict[str, str], told: str
) -> None:
    page = anna.get(BANDS, params=params)

    assert page.status_code == 422
    assert "Nothing could be weighed." in page.text
    assert told in page.text
    [(name, value)] = params.items()
    assert name in ("bands", "aim", "vital") or f'name="{name}" type="text"' in page.text
    assert name in ("bands", "aim", "vital") or f'value="{value}"' in page.text


def test_a_draft_takes_over_only_what_is_confirmed(anna: TestClient, visits: Visits) -> None:
    before = stored(visits)

    answer = anna.post(BANDS, data=confirming(anna.get(BANDS + "?bands=3"), "1 y to 13 y"))

    assert answer.headers["location"] == "/skerry/policy/2"
    after = stored(visits, 2)
    assert after["categories"] == before["categories"]
    assert {
        (category, alarm, setting["limit"], setting.get("reason"), setting.get("source"))
        for category, settings in after["settings"].items()
        for alarm, setting in settings.items()
        if setting != before["settings"][category][alarm]
    } == {
        ("preschool", "heart-rate-low", 60, None, None),
        ("preschool", "heart-rate-high", 160, None, None),
        ("school", "heart-rate-high", 160, None, None),
    }
    assert stored(visits) == before


def test_the_draft_counts_the_reasons_that_are_left_to_write(anna: TestClient) -> None:
    page = anna.get(BANDS + "?bands=3")
    started = anna.post(BANDS, data=confirming(page, "1 y to 13 y")).headers["location"]

    shown = anna.get(started).text

    assert "Every reason and source of a new limit is left to you." in shown
    assert "3 cells without a reason or source." in shown


def test_the_ledger_tells_which_bands_were_taken_over(anna: TestClient, visits: Visits) -> None:
    anna.post(BANDS, data=confirming(anna.get(BANDS + "?bands=3"), "birth to 1 y"))

    with visits.database.reading() as tx:
        [body] = tx.execute(
            sa.text("SELECT body FROM ledger WHERE body LIKE '%take over advised bands%'")
        ).scalars()
    about = json.loads(body)["about"]
    assert (about["from_revision"], about["revision"]) == (1, 2)
    assert about["bands"] == [{"ages": ["0 d", "1 y"], "low": 80, "high": 180}]


def test_nothing_ticked_starts_nothing(anna: TestClient) -> None:
    answer = anna.post(BANDS, data=confirming(anna.get(BANDS)))

    assert answer.status_code == 422
    assert "No draft was started." in answer.text
    assert "Confirm at least one band." in answer.text
    assert anna.get("/skerry/policy/2").status_code == 404


def test_advice_that_changed_meanwhile_is_not_taken_over(anna: TestClient) -> None:
    sent = confirming(anna.get(BANDS + "?bands=3"), "birth to 1 y")

    answer = anna.post(BANDS, data=sent | {"caution": "0"})

    assert answer.status_code == 409
    assert "The advice is another one by now" in answer.text
    assert anna.get("/skerry/policy/2").status_code == 404


def test_a_draft_that_somebody_edited_meanwhile_is_looked_at_again(
    anna: TestClient, visits: Visits
) -> None:
    visits.seed(a_draft)
    address = "/skerry/policy/2/bands"
    page = anna.get(address + "?bands=3")
    sent = confirming(page.__class__(200, text=page.text.replace(address, BANDS)), "birth to 1 y")
    cell = "/skerry/policy/2/cell/preschool/heart-rate-high/typed"
    assert anna.post(cell, data={"typed": "165", "edit_version": "1"}).status_code == 303

    answer = anna.post(address, data=sent)

    assert answer.status_code == 409
    assert "was changed since the advice was given" in answer.text
    assert "checked" in answer.text  # what was ticked stays ticked


@pytest.mark.parametrize("role", [Role.CREW, Role.FLEET_MANAGER, Role.REVIEWER])
def test_whoever_writes_no_drafts_sees_the_advice_and_takes_nothing_over(
    anna: TestClient, visits: Visits, role: Role
) -> None:
    sent = confirming(anna.get(BANDS + "?bands=3"), "birth to 1 y")
    other = visits.of(role)

    page = other.get(BANDS + "?bands=3")

    assert "Start a draft" not in page.text
    assert "birth to 1 y" in page.text
    assert other.post(BANDS, data=sent).status_code == 403


def test_of_another_agency_there_is_nothing(visits: Visits) -> None:
    outsider = visits.of_outsider()

    assert outsider.get(BANDS).status_code == 404
    assert outsider.get("/elsewhere/policy/1/bands").status_code == 404


def test_the_models_of_the_fleet_decide_what_can_be_set(anna: TestClient, visits: Visits) -> None:
    document = a_document()
    grid = {"from": 31, "to": 301, "step": 10}
    document["models"] = {
        "dunlin": {"presets": {}, "grid": {"heart-rate-low": grid, "heart-rate-high": grid}}
    }
    visits.seed(lambda tx: a_draft(tx, document=document))

    page = anna.get("/skerry/policy/2/bands").text

    assert "Only limits that can be set on every model: dunlin." in page
    marks = re.findall(r'name="confirm" value="[^:]+:(\d+):(\d+)"', page)
    assert {int(limit) % 10 for pair in marks for limit in pair} == {1}
