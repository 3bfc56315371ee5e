"""Noise and silence of a revision: replayed, read at a limit, printed."""

import html
import json
import re
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import PRESET, a_document, a_draft, a_signed_revision
from tests.printed import text
from tests.recorded import a_recording, an_evidence
from tests.web.visits import Visits

NOISE = "/skerry/policy/2/noise"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    """170 is signed; a draft asks for 185, where 180 is danger (AHA PALS)."""
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 185})))
    return found


@pytest.fixture
def dana(visits: Visits) -> TestClient:
    return visits.of(Role.MEDICAL_DIRECTOR)


def page_of(client: TestClient, address: str = NOISE, **asked: str) -> str:
    answer = client.get(address, params=asked)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", html.unescape(answer.text))


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", page))


def replayed(visits: Visits) -> None:
    visits.seed(a_recording)
    visits.seed(lambda tx: an_evidence(tx, 2))


def test_without_a_recording_the_page_says_where_to_add_one(dana: TestClient) -> None:
    page = page_of(dana)

    assert "There is no recording of Neonate yet." in page
    assert 'href="/skerry/recordings"' in page
    assert "<button>Replay" not in page


def test_the_category_with_recordings_is_shown_first_and_waits_to_be_replayed(
    visits: Visits, dana: TestClient
) -> None:
    visits.seed(a_recording)

    page = page_of(dana)

    assert f'<option value="{PRESET}" selected>Preschool, 1 y to 5 y (1 recording)' in page
    assert "was not replayed against this recording of Preschool as it stands now" in page
    assert "<button>Replay Preschool</button>" in page


def test_a_replay_tells_the_draft_against_what_is_in_force(
    visits: Visits, dana: TestClient
) -> None:
    visits.seed(a_recording)

    answer = dana.post(NOISE, data={"category": PRESET})

    assert answer.status_code == 303
    page = words(page_of(dana, answer.headers["location"]))
    assert "0.0 monitored hours of 2 patients" in page
    assert "Heart rate high 185 /min, 0 s: 0.00 an hour" in page
    assert "170 /min, 0 s: 31.58 an hour (0.00–63.16)1 alarm, 17 s, 1 of 2 patients" in page
    assert "−31.58 (−63.16 to +0.00)" in page
    assert "revision 2, " in page
    assert "default, not adopted" in page


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({}, ("At 185 /min after 0 s", "0 in 0.0 h", "5 of 5 s beyond 180 /min (danger)")),
        ({"limit": "170"}, ("At 170 /min after 0 s", "1 in 0.0 h", "0 of 5 s beyond 180")),
        ({"limit": "170", "delay": "15"}, ("after 15 s", "2 s, of 1 of 2", "3 of 5 s beyond")),
        ({"limit": "9e9"}, ("5 of 5 s beyond 180",)),
        ({"limit": "nan", "delay": "x"}, ("At 185 /min after 0 s",)),
        ({"limit": "170", "of": "spo2-low"}, ("At 185 /min after 0 s",)),
        ({"bound": "99"}, ("beyond",)),
    ],
)
def test_a_limit_and_a_delay_are_read_without_a_script(
    visits: Visits, dana: TestClient, asked: dict[str, str], told: tuple[str, ...]
) -> None:
    replayed(visits)

    page = words(page_of(dana, category=PRESET, alarm="heart-rate-high", **asked))

    for part in told:
        assert part in page


def test_the_signed_line_stands_on_the_same_picture(visits: Visits, dana: TestClient) -> None:
    replayed(visits)

    page = page_of(dana, category=PRESET, alarm="heart-rate-high")

    assert page.count('class="stand signed"') == 2  # in the key and in the picture
    assert 'class="point signed"' in page
    assert 'class="point own"' in page
    assert "170 /min after 0 s: 1 alarm, 17 s; 0 s silent, 0 episodes unannounced" in page


def test_the_script_is_handed_all_that_it_reads(visits: Visits, dana: TestClient) -> None:
    replayed(visits)
    page = dana.get(NOISE, params={"category": PRESET, "alarm": "heart-rate-high"}).text
    found = re.search(r'data-curves="([^"]*)"', page)
    assert found is not None

    curves: dict[str, Any] = json.loads(html.unescape(found[1]))

    place = curves["limits"].index(170)
    assert curves["counts"][0][place] == 1
    assert curves["seconds"][0][place] == 17
    assert curves["alarmed"][0][place] == 1
    silent = curves["silence"][0]["seconds"][0]
    assert silent[curves["limits"].index(185)] == 5
    assert len(curves["counts"]) == len(curves["delays"])


def test_every_limit_stands_in_the_table(visits: Visits, dana: TestClient) -> None:
    replayed(visits)

    page = page_of(dana, category=PRESET, alarm="heart-rate-high")

    rows = page.partition("Every limit as a table")[2].replace("</t", " </t")
    table = words(rows)
    assert " 170 1 31.58 17 1 0 0 0 revision 1" in table
    assert " 185 0 0.00 0 0 5 1 1 revision 2" in table


def a_draft_with_altitude(tx: Session) -> None:
    document = a_document()
    low = {**document["settings"][PRESET]["spo2-low"], "limit": 84}
    high_up = {"key": "above-2500-m", "label": "Above 2500 m", "applies_to": [PRESET]}
    a_draft(
        tx, document={**document, "circumstances": [{**high_up, "settings": {"spo2-low": low}}]}
    )


def test_a_circumstance_is_chosen_replayed_kept_and_printed_apart(
    visits: Visits, dana: TestClient
) -> None:
    visits.seed(a_draft_with_altitude)
    visits.seed(a_recording)
    third = "/skerry/policy/3/noise"
    here = {"category": PRESET, "circumstance": "above-2500-m"}
    dana.post(third, data={"category": PRESET})

    page = page_of(dana, third, **here)
    assert '<option value="above-2500-m" selected>Above 2500 m</option>' in page
    assert "<button>Replay Preschool, Above 2500 m</button>" in page
    assert '<input type="hidden" name="circumstance" value="above-2500-m">' in page
    assert "Revision 1 does not know the circumstance: its plain limits stand beside" in page
    answer = dana.post(third, data=here)

    assert answer.headers["location"].endswith("?category=preschool&circumstance=above-2500-m")
    page = words(page_of(dana, third, **here))
    assert "Preschool, Above 2500 m: what the limits cost" in page
    assert "SpO₂ low 84 %, 0 s: 0.00 an hour" in page
    plain = words(page_of(dana, third, category=PRESET))
    assert "Preschool: what the limits cost" in plain
    assert "SpO₂ low 84 %" not in plain
    printed = text(dana.get(f"{third}/annex.pdf").content)
    assert "Preschool, 1 y to 5 y: Above 2500 m" in printed
    assert "Circumstance Above 2500 m; its limits and bounds, the recordings of the" in printed


def test_a_category_without_the_circumstance_shows_its_plain_limits_and_says_so(
    visits: Visits, dana: TestClient
) -> None:
    visits.seed(a_draft_with_altitude)
    third = "/skerry/policy/3/noise"

    page = page_of(dana, third, category="school", circumstance="above-2500-m")

    assert "Above 2500 m changes no limit of School" in page
    answer = dana.post(third, data={"category": "school", "circumstance": "above-2500-m"})
    assert answer.status_code == 404


def test_an_edit_or_another_recording_asks_for_another_replay(
    visits: Visits, dana: TestClient
) -> None:
    replayed(visits)
    assert "as it stands now" not in page_of(dana)

    visits.seed(lambda tx: a_recording(tx, name="More of it", category="school"))
    assert "as it stands now" not in page_of(dana)
    visits.seed(lambda tx: a_recording(tx, slower=1))

    page = page_of(dana)
    assert "was not replayed against these 2 recordings of Preschool" in page
    assert "Told from" not in page
    assert "annex as it was then (PDF)" in page
    printed = text(dana.get(f"{NOISE}/annex.pdf").content)
    assert "As it was replayed then: recordings, outer bounds or the revision" in printed


def test_a_synthetic_cohort_beside_a_real_recording_is_left_out_and_said_so(
    visits: Visits, dana: TestClient
) -> None:
    replayed(visits)
    dana.post(
        "/skerry/recordings/synthetic", data={"category": PRESET, "patients": "2", "hours": "1"}
    )

    page = page_of(dana)

    assert "so the synthetic cohort is left out: the two are never mixed" in page
    assert "SYNTHETIC:" not in page
    assert "as it stands now" not in page  # what was told of the real one still holds


@pytest.mark.parametrize(
    ("role", "status"), [(Role.REVIEWER, 303), (Role.QUALITY_OFFICER, 303), (Role.CREW, 403)]
)
def test_who_may_replay(visits: Visits, role: Role, status: int) -> None:
    visits.seed(a_recording)
    client = visits.of(role)

    assert client.post(NOISE, data={"category": PRESET}).status_code == status
    assert ("<button>Replay" in page_of(client, "/skerry/policy/1/noise")) == (status == 303)


def test_the_annex_prints_what_was_replayed(visits: Visits, dana: TestClient) -> None:
    assert dana.get(f"{NOISE}/annex.pdf").status_code == 404
    replayed(visits)

    answer = dana.get(f"{NOISE}/annex.pdf")

    assert answer.headers["content-type"] == "application/pdf"
    assert "skerry-revision-2-noise-and-silence.pdf" in answer.headers["content-disposition"]
    printed = text(answer.content)
    assert "Annex: noise and silence" in printed
    assert "As it was replayed then" not in printed
    paper = text(dana.get("/skerry/policy/2/paper.pdf").content)
    assert "Annex noise and silence of Preschool, printed apart" in paper
    assert "Annex" not in text(dana.get("/skerry/policy/1/paper.pdf").content)
    assert "Heart rate high 180 /min (danger) 5 of 5 s 1 of 1 1 of 1" in printed


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/skerry/policy/9/noise", 404),
        (f"{NOISE}?category=toddler", 404),
        (f"{NOISE}?bound=-1", 422),
        ("/skerry/policy/9/noise/annex.pdf", 404),
    ],
)
def test_what_is_not_there_is_not_found(dana: TestClient, path: str, status: int) -> None:
    assert dana.get(path).status_code == status


def test_a_replay_without_recordings_says_why_not(dana: TestClient) -> None:
    answer = dana.post(NOISE, data={"category": PRESET})

    assert answer.status_code == 409
    assert "There is no recording of this category yet" in answer.text


def test_the_page_shows_the_caution(visits: Visits, dana: TestClient) -> None:
    replayed(visits)

    assert "no advice for a patient" in page_of(dana)
