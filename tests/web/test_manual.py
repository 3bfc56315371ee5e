import html
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.comparison import Direction
from app.domain.disagreement import COMPARED
from app.domain.findings import Severity
from app.domain.moves import MOVES
from app.domain.published_tables import SHELF
from app.domain.rules import RULES
from app.domain.settings_of_alarms import Priority
from app.storage.database import Database
from app.web.manual import PAGES
from tests.web.visits import Visits


@pytest.fixture
def reader(sqlite_database: Database, tmp_path: Path) -> TestClient:
    """Not signed in: the manual is open."""
    return TestClient(Visits(sqlite_database, tmp_path).app)


@pytest.mark.parametrize("name", sorted(PAGES))
def test_every_page_is_named_in_the_contents_and_carries_the_caution(
    reader: TestClient, name: str
) -> None:
    page = reader.get(f"/help/{name}")

    assert page.status_code == 200
    assert f'href="/help/{name}"' in reader.get("/help/").text
    assert "no advice for a patient" in page.text
    assert "Local protocol and licensed judgement rule" in page.text


def test_there_is_no_other_page(reader: TestClient) -> None:
    assert reader.get("/help/base").status_code == 404
    assert reader.get("/help/..%2Fhome").status_code == 404


def test_every_rule_is_explained(reader: TestClient) -> None:
    page = reader.get("/help/rules").text

    assert [rule.key for rule in RULES if rule.key not in page] == []


def test_every_published_source_is_shown_with_its_use_and_its_table(reader: TestClient) -> None:
    page = html.unescape(reader.get("/help/ranges").text)

    for table in SHELF:
        assert table.citation in page
        assert table.used_for in page
        assert all(cell in page for row in table.rows for cell in row)


def test_sources_that_disagree_stand_side_by_side(reader: TestClient) -> None:
    page = reader.get("/help/ranges").text

    assert page.count("Medical emergency team<br>called below · called above") == len(COMPARED)
    assert "30–36" in page  # DeVita and Bellomo on fast breathing
    assert "only 16 y to 18 y" in page


def test_what_published_ranges_cross_is_told_by_age(reader: TestClient) -> None:
    page = html.unescape(reader.get("/help/ranges").text)

    assert "low limit below the 1st centile, 107" in page
    assert "high limit below the median, 123" in page
    assert "high limit above the 99th centile, 115" in page


def test_the_picture_of_the_moves_holds_every_move_of_the_table(reader: TestClient) -> None:
    page = reader.get("/help/moves").text
    wide, narrow = (part.split("</svg>")[0] for part in page.split('<svg class="moves')[1:])
    moves = [(start, end, move) for start, ends in MOVES.items() for end, move in ends.items()]

    for number, (start, end, move) in enumerate(moves, start=1):
        for picture in (wide, narrow):
            assert f">{start.words}</text>" in picture
            assert f'data-move="{start} {end}"' in picture
        assert f">{number}. {move.words}</text>" in wide
        assert f">{number}</text>" in narrow
        row = (
            f'<td>{number}</td><th scope="row">{start.words}</th>'
            f"<td>{move.words}</td><td>{end.words}</td>"
        )
        assert row in page


def test_a_fault_of_a_workbook_is_shown_as_it_will_be_told(reader: TestClient) -> None:
    assert "Settings!D12: must be a number (here: 9o)" in reader.get("/help/files").text


@pytest.mark.parametrize("value", [*Priority, *Direction, *Severity])
def test_the_gallery_shows_every_mark_with_its_word(reader: TestClient, value: str) -> None:
    text = re.sub(r"<[^>]*>", "", reader.get("/help/look").text)

    assert value.replace("-", " ") in text or value in text
