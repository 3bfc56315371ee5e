from copy import deepcopy
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.demo.profile import document
from app.domain.documents import with_setting
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_device, a_document, a_draft, a_signed_revision
from tests.web.policies import POLICY
from tests.web.visits import Visits

REDLINE = f"{POLICY}/2/redline"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def dana(visits: Visits) -> TestClient:
    """In front of a draft in which the heart rate may rise unannounced, and more."""
    after = deepcopy(document(3))
    off = {"state": "off", "reason": "seldom needed"}
    after = with_setting(after, "adult", "vpc-rate", off)
    reworded = after["settings"]["adult"]["asystole"] | {"reason": "read again"}
    after = with_setting(after, "adult", "asystole", reworded)
    after["options"]["longest-pause-s"]["value"] = 90
    visits.seed(lambda tx: a_signed_revision(tx, document=document(2)))
    visits.seed(lambda tx: a_draft(tx, document=after))
    visits.seed(a_device)
    return visits.of(Role.MEDICAL_DIRECTOR)


def test_the_gravest_change_comes_first_and_words_last(dana: TestClient) -> None:
    page = dana.get(REDLINE).text

    order = [
        "2 open a silence · 2 looser · 1 switched off · 1 tighter · 1 words only",
        "1 y to 5 y: Heart rate can rise from 170 to 185 /min unannounced.",
        "Now silent: 181 to 185 /min at 1 y to 5 y: above 180 /min is danger",
        "5 y to 13 y: Respiratory rate can fall from 12 to 11 /min unannounced.",
        "13 y and over: VPC rate no longer sounds.",
        "The longest pause, in which no alarm sounds, is 90 s instead of 120 s.",
        "Words only: 1 change",
        "13 y and over: Asystole stays as it is; only its words or its unit change.",
    ]
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_the_effect_by_age_is_drawn_and_told_in_a_table(dana: TestClient) -> None:
    page = dana.get(REDLINE).text

    assert "Heart rate and pulse rate" in page
    assert "Danger passes unannounced at 1 y to 5 y that sounded before." in page
    assert page.count('class="corridor redline-drawing"') == 2
    assert "alarm below 75 · above 185 /min" in page
    assert "silent at 181 to 185 /min: above 180 /min is danger" in page
    assert "on arrival: 4.5%" in page


def test_devices_and_cards_it_makes_void_are_listed(dana: TestClient) -> None:
    page = dana.get(REDLINE).text

    assert "1 device must be set again." in page
    assert '<a href="/skerry/devices/boat-3">boat-3</a>' in page
    assert "<strong>Young child</strong>: every printed card; its limits change." in page


def test_any_other_revision_can_be_chosen(visits: Visits, dana: TestClient) -> None:
    visits.seed(lambda tx: a_draft(tx, document=a_document()))

    page = dana.get(REDLINE, params={"against": 3}).text

    assert '<option value="3" selected>revision 3 (draft)</option>' in page
    assert "against revision 3" in page
    assert "It is described for the first time." in page


def test_nothing_differs_from_itself(dana: TestClient) -> None:
    assert "Nothing differs" in dana.get(REDLINE, params={"against": 2}).text


def test_the_only_revision_has_nothing_to_be_compared_with(visits: Visits) -> None:
    visits.seed(a_draft)

    page = visits.of(Role.CREW).get(f"{POLICY}/1/redline")

    assert page.status_code == 200
    assert "There is no other revision to compare with" in page.text


def test_the_first_one_in_force_waits_for_a_choice(dana: TestClient) -> None:
    assert "choose one above" in dana.get(f"{POLICY}/1/redline").text


@pytest.mark.parametrize(
    ("path", "status"),
    [
        (f"{POLICY}/9/redline", 404),
        (f"{REDLINE}?against=9", 404),
        (f"{REDLINE}?against=0", 422),
        (f"{REDLINE}?against=one", 422),
    ],
)
def test_what_is_no_revision_is_refused(dana: TestClient, path: str, status: int) -> None:
    assert dana.get(path).status_code == status


def test_the_page_of_a_revision_shows_the_gravest_and_leads_here(dana: TestClient) -> None:
    page = dana.get(f"{POLICY}/2").text
    part = page[page.index('<section id="redline"') :]

    assert "2 open a silence · 2 looser" in part
    assert "can rise from 170 to 185 /min unannounced" in part
    assert "Words only" not in part
    assert f'href="{REDLINE}"' in part
