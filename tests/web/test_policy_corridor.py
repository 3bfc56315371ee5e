"""The age corridor on its pages: what an edit swaps, every source, the picture and the table."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft, a_signed_revision
from tests.web.policies import CELL, DRAFT, HTMX, ON, POLICY, WALL, an_unsafe_draft, setting
from tests.web.visits import Visits

SVG = "{http://www.w3.org/2000/svg}"
WITH_SOURCES = {**HTMX, "HX-Current-URL": f"http://testserver{DRAFT}?sources=1"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    visits.seed(an_unsafe_draft)
    return visits.of(Role.AUTHOR)


def lanes(text: str) -> list[str]:
    return re.findall(r'<div id="lane-([a-z0-9-]+)"', text)


def drawn_in(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)  # noqa: S314 - our own answer, no stranger's file


# Walls


def test_whoever_may_edit_takes_hold_of_the_walls(anna: TestClient) -> None:
    page = anna.get(DRAFT).text

    grip = re.search(r'<g class="grip" id="grip-preschool-heart-rate-high"[^>]*>', page)
    assert grip is not None
    assert f'data-action="{WALL}"' in grip[0]
    assert 'data-limit="185" data-unit="/min"' in grip[0]
    assert 'data-step="1"' in grip[0]


@pytest.mark.parametrize("role", [Role.CREW, Role.REVIEWER, Role.MEDICAL_DIRECTOR])
def test_whoever_may_not_edit_has_nothing_to_take_hold_of(visits: Visits, role: Role) -> None:
    visits.seed(a_signed_revision)

    page = visits.of(role).get(DRAFT).text

    assert lanes(page)
    assert 'class="grip"' not in page
    assert "Move a wall" not in page


def test_a_moved_wall_swaps_its_lane_and_no_other(anna: TestClient) -> None:
    drawn = lanes(anna.get(DRAFT).text)

    answer = anna.post(WALL, data={"steps": "-6", "edit_version": "1"}, headers=HTMX).text

    assert lanes(answer) == ["heart-rate"]
    assert len(drawn) > 3
    assert 'data-limit="179"' in answer
    assert '<section id="corridor"' not in answer
    assert 'data-edit-version="2"' in answer


def test_a_wall_may_go_a_long_way_in_one_edit(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(WALL, data={"steps": "-120", "edit_version": "1"}, headers=HTMX)

    assert answer.status_code == 200
    assert (setting(visits) or {})["limit"] == 65


def test_an_alarm_without_a_lane_swaps_none(anna: TestClient) -> None:
    cell = f"{DRAFT}/cell/preschool/asystole"

    answer = anna.post(cell, data={**ON, "limit": "", "priority": "high"}, headers=HTMX)

    assert answer.status_code == 200
    assert lanes(answer.text) == []


def test_a_new_lane_swaps_the_whole_corridor(anna: TestClient) -> None:
    cell = f"{DRAFT}/cell/preschool/ibp-mean-low"

    answer = anna.post(cell, data={**ON, "limit": "40"}, headers=HTMX).text

    assert '<section id="corridor"' in answer
    assert "ibp-mean" in lanes(answer)


def test_what_somebody_else_changed_meanwhile_is_shown_in_every_lane(anna: TestClient) -> None:
    anna.post(CELL, data={**ON, "limit": "178"})

    answer = anna.post(WALL, data={"steps": "-1", "edit_version": "1"}, headers=HTMX)

    assert answer.status_code == 409
    assert '<section id="corridor"' in answer.text


# Every source


def test_every_source_is_shown_on_request(anna: TestClient) -> None:
    plain, page = anna.get(f"{DRAFT}?age=23+mo").text, anna.get(f"{DRAFT}?age=23+mo&sources=1").text

    assert 'id="sources"' not in plain
    assert "Show every source’s bounds" in plain
    assert "Hide the sources" in page
    assert "Healthy children (Fleming 2011)" in page
    assert "Lancet 377:1011-8" in page
    assert "Read: a secondary copy." in page
    assert "the lows differ by up to 22 /min, from 60 to 82" in page
    assert page.count('class="source low"') > 10


def test_walking_tells_what_the_sources_say_there(anna: TestClient) -> None:
    strip = f"{DRAFT}/strip?age=40+y&lanes=4"

    plain, told = anna.get(strip, headers=HTMX).text, anna.get(f"{strip}&sources=1").text

    assert 'id="sources-at"' not in plain
    assert "What they say at 40 y" in told
    assert "Medical emergency team" in told


def test_the_sources_stay_while_walls_move(anna: TestClient) -> None:
    step = {"steps": "-1", "edit_version": "1", "age": "3 y"}

    answer = anna.post(WALL, data=step, headers=WITH_SOURCES).text

    assert 'class="source low"' in answer


# The picture and the table


def test_the_picture_is_a_file_that_needs_nothing_else(anna: TestClient) -> None:
    answer = anna.get(f"{DRAFT}/corridor.svg")

    assert answer.headers["content-type"] == "image/svg+xml"
    assert 'filename="skerry-revision-1-corridor.svg"' in answer.headers["content-disposition"]
    drawing = drawn_in(answer.text)
    style = drawing.find(f"{SVG}style")
    assert style is not None
    assert style.text is not None
    assert "var(" not in style.text
    assert "#1a2427" in style.text
    assert not re.search(r'(href|src)=|url\((?!#|"#)', answer.text.replace("&#34;", '"'))
    words = " ".join(drawing.itertext())
    assert "no advice for a patient" in words
    assert "silent" in words
    assert "Heart rate" in words


def test_the_picture_shows_every_source_on_request(anna: TestClient) -> None:
    words = " ".join(drawn_in(anna.get(f"{DRAFT}/corridor.svg?sources=1").text).itertext())

    assert "National PEWS 2023" in words


def test_words_that_are_markup_stay_words_in_the_picture(visits: Visits) -> None:
    document = a_document() | {"profile": "<b>Ground</b> & air"}
    visits.seed(lambda tx: a_draft(tx, document=document))

    drawing = drawn_in(visits.of(Role.AUTHOR).get(f"{DRAFT}/corridor.svg").text)

    assert "<b>Ground</b> & air" in " ".join(drawing.itertext())


def test_the_corridor_is_read_as_a_table(anna: TestClient) -> None:
    page = anna.get(f"{DRAFT}/corridor").text

    assert "The age corridor as a table" in page
    assert "silent from 180 to 185: above 180 /min is danger." in page
    assert "above 185" in page
    assert "no advice for a patient" in page


@pytest.mark.parametrize("path", ["/1/corridor", "/1/corridor.svg"])
def test_another_agencys_corridor_is_not_there(visits: Visits, path: str) -> None:
    visits.seed(an_unsafe_draft)

    assert visits.of_outsider().get(POLICY + path).status_code == 404
