import re
from datetime import timedelta
from pathlib import Path

import pytest

from app.domain.measures import Point, run_chart
from app.domain.people import Role
from app.storage.database import Database
from app.web.measures import duration_words
from app.web.run_charts import drawn_chart
from tests.builders import DAY, a_device
from tests.lookups.test_measures import a_fleet
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_fleet)
    return visits


@pytest.mark.parametrize(
    ("hours", "words"),
    [(0.9, "under 1 h"), (1, "1 h"), (47.4, "47 h"), (48, "2 d"), (170, "7 d")],
)
def test_how_long_in_words(hours: float, words: str) -> None:
    assert duration_words(timedelta(hours=hours)) == words


def test_what_is_not_known_is_no_zero() -> None:
    assert duration_words(None) == "not yet known"


def test_every_figure_names_its_denominator(visits: Visits) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/fleet/measures").text

    assert "0 of 1, 0 %" in page
    assert "2 of 3" in page
    assert re.search(r">1</a> to <a [^>]*>0</a> alarms", page)


@pytest.mark.parametrize(
    "leads_to",
    [
        "fleet?status=holds",
        "fleet?status=not-judged",
        "fleet?status=differs",
        "fleet?status=unsafe",
        "fleet?overdue=1",
        "findings?status=any&amp;severity=unsafe&amp;kind=held&amp;opened=90",
    ],
)
def test_a_figure_leads_to_what_was_counted(visits: Visits, leads_to: str) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/fleet/measures").text

    assert f'href="/skerry/{leads_to}"' in page


def test_a_month_shows_once_it_is_over(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    before = femi.get("/skerry/fleet/measures").text
    visits.now += 40 * DAY

    assert "No month is over yet" in before
    assert "2026-03" in femi.get("/skerry/fleet/measures").text


def test_a_month_without_a_reading_breaks_the_line() -> None:
    points = [
        Point(f"m{n}", found, of)
        for n, (found, of) in enumerate([(1, 2), (2, 2), (0, 0), (1, 2), (0, 2)])
    ]

    drawn = drawn_chart("t", run_chart(points))

    assert len(drawn.lines) == 2
    assert len(drawn.spots) == 4
    assert [tick.label for tick in drawn.shares] == ["0 %", "50 %", "100 %"]


def test_small_shares_get_a_small_scale() -> None:
    drawn = drawn_chart("t", run_chart([Point("m", 1, 60)]))

    assert [tick.label for tick in drawn.shares] == ["0 %", "1 %", "2 %"]


def test_looking_back_shows_what_it_should_have_held(visits: Visits) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/devices/boat-3/past?at=2026-03-03")

    assert page.status_code == 200
    assert "Revision 1" in page.text
    assert "Last read before then" in page.text
    assert "no advice" in page.text


def test_looking_back_marks_what_was_off_in_words(visits: Visits) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/devices/boat-3/past").text

    assert "<strong>200 /min</strong>" in page
    assert page.count('<span class="direction looser">') == 1
    assert "had no such preset" not in page


@pytest.mark.parametrize("typed", ["yesterday", "2026-13-01"])
def test_what_is_no_day_is_told_beside_the_field(visits: Visits, typed: str) -> None:
    answer = visits.of(Role.CREW).get(f"/skerry/devices/boat-3/past?at={typed}")

    assert answer.status_code == 422
    assert "give a day, or a day and a time" in answer.text


def test_a_device_that_was_never_read(visits: Visits) -> None:
    visits.seed(lambda tx: a_device(tx, "new-1"))

    page = visits.of(Role.CREW).get("/skerry/devices/new-1/past").text

    assert "Never read before then" in page
