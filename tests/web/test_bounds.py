from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.exchange.bounds_csv import MOST_BYTES
from app.storage.database import Database
from tests.adopted_bounds import DEFAULT, LOOSER, STRICTER, adopted_bounds, drafted_bounds
from tests.builders import (
    DAY,
    PASSWORD,
    a_device,
    a_document,
    a_draft,
    a_report,
    a_signed_revision,
)
from tests.web.visits import Visits

BOUNDS = "/skerry/bounds"
FIRST = f"{BOUNDS}/1"
NAME = "version 1, signed by Dana"
SILENT = "Heart rate can rise to 175 /min unannounced"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def upload(client: TestClient, content: str | bytes) -> Response:
    raw = content.encode() if isinstance(content, str) else content
    return client.post(BOUNDS, files={"bounds": ("ours.csv", raw)})


def sign(client: TestClient, fingerprint: str, **instead: str) -> Response:
    entry = {"fingerprint": fingerprint, "meaning": "adopted", "password": PASSWORD}
    return client.post(f"{FIRST}/sign", data={**entry, **instead})


def test_the_default_judges_until_one_is_adopted_and_says_so(visits: Visits) -> None:
    page = visits.of(Role.CREW).get(BOUNDS)

    assert page.status_code == 200
    assert "default, not adopted" in page.text
    assert "PALS hypotension" in page.text
    assert "below 70 + 2 per year of age mmHg" in page.text
    assert "Draft a version" not in page.text


def test_what_is_in_force_and_every_version_are_shown(visits: Visits) -> None:
    visits.seed(adopted_bounds)
    visits.seed(drafted_bounds)

    page = visits.of(Role.AUTHOR).get(BOUNDS)

    assert NAME in page.text
    assert "“These are our outer bounds.”" in page.text
    assert page.text.index("Version 2") < page.text.index("Version 1")
    assert "above 170 /min" in page.text


def test_the_default_is_downloaded_and_handed_in_unchanged(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    start = anna.get(f"{BOUNDS}/default.csv")

    answer = upload(anna, start.content)

    assert (start.text, start.headers["content-type"]) == (DEFAULT, "text/csv; charset=utf-8")
    assert (answer.status_code, answer.headers["location"]) == (303, FIRST)
    assert anna.get(f"{FIRST}/bounds.csv").text == DEFAULT
    assert "Every bound is the same." in anna.get(FIRST).text
    assert "Beside the default" not in anna.get(FIRST).text


def test_a_version_in_force_stands_beside_the_default(visits: Visits) -> None:
    visits.seed(adopted_bounds)

    page = visits.of(Role.CREW).get(FIRST).text

    assert "What it would change" not in page
    change = "above 170 /min is danger, and above 180 /min was danger before"
    assert page.index("Beside the default") < page.index(change)


def test_rows_can_be_written_on_the_page(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)

    answer = anna.post(BOUNDS, data={"text": STRICTER})

    assert answer.headers["location"] == FIRST
    assert anna.get(f"{FIRST}/bounds.csv").text == STRICTER


def test_a_refused_file_is_told_by_line_and_column_and_kept_on_the_page(visits: Visits) -> None:
    wrong = STRICTER.replace(",170,danger,", ",16s,red,")

    answer = upload(visits.of(Role.AUTHOR), wrong)

    assert answer.status_code == 422
    assert "ours.csv was refused; nothing was stored" in answer.text
    assert "line 6, bound: must be a number, or base + per-year * age_years" in answer.text
    assert "line 6, grade: must be danger or caution" in answer.text
    assert "heart-rate,1 y,5 y,,high,16s,red," in answer.text


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "line 1, file: the file is empty"),
        (b"\xff\xfe", "line 1, file: this is not UTF-8 text"),
        (b"x" * (MOST_BYTES + 1), "the file is larger than 512 KiB"),
        (b"vital_sign,age_from\n", "line 1, bound: this column is missing"),
    ],
    ids=["empty", "no UTF-8", "too large", "no header"],
)
def test_what_is_no_file_of_bounds_is_refused_in_words(
    visits: Visits, content: bytes, told: str
) -> None:
    answer = upload(visits.of(Role.AUTHOR), content)

    assert answer.status_code == 422
    assert told in answer.text


def test_a_version_tells_first_what_it_makes_of_the_policy(visits: Visits) -> None:
    visits.seed(lambda tx: a_signed_revision(tx, document=a_document({"heart-rate-high": 175})))
    visits.seed(drafted_bounds)

    page = visits.of(Role.MEDICAL_DIRECTOR).get(FIRST).text

    assert "Revision 1, which is in force, would be unsafe in 1 place where it was not" in page
    change = "above 170 /min is danger, and above 180 /min was danger before"
    assert page.index(SILENT) < page.index("1 tighter") < page.index(change)
    assert f"{FIRST}/sign" in page


def test_an_outgoing_version_says_what_becomes_looser(visits: Visits) -> None:
    visits.seed(lambda tx: drafted_bounds(tx, LOOSER))

    page = visits.of(Role.AUTHOR).get(FIRST).text

    assert "1 looser." in page
    assert f"{FIRST}/sign" not in page


def test_adopting_stricter_bounds_turns_a_note_into_something_unsafe(visits: Visits) -> None:
    visits.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 175})))
    drafted = visits.seed(drafted_bounds)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    before = dana.get("/skerry/policy/1").text

    answer = sign(dana, drafted.fingerprint)

    after = dana.get("/skerry/policy/1").text
    assert (answer.status_code, answer.headers["location"]) == (303, FIRST)
    assert "0 unsafe" not in before
    assert "1 unsafe" not in before
    assert "outer bounds</a>: default, not adopted." in before
    assert f"outer bounds</a>: {NAME}." in after
    assert '<li class="unsafe" data-rule="silent-gap">' not in before
    assert '<li class="unsafe" data-rule="silent-gap">' in after
    assert SILENT in after


def test_bounds_begin_at_the_time_given_in_the_agency_s_zone(visits: Visits) -> None:
    drafted = visits.seed(drafted_bounds)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    sign(dana, drafted.fingerprint, when="later", begins="2026-03-04T08:00")

    assert "default, not adopted" in dana.get(BOUNDS).text
    visits.now += 3 * DAY
    assert NAME in dana.get(BOUNDS).text


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({"password": "never on a page"}, "this is not your password"),
        ({"meaning": " "}, "this must not be empty"),
        ({"when": "later", "begins": "soon"}, "give a day and a time"),
        ({"when": "later", "begins": "2020-01-01T08:00"}, "this time has passed"),
    ],
)
def test_what_is_wrong_is_told_beside_the_form_and_what_was_typed_stays(
    visits: Visits, instead: dict[str, str], told: str
) -> None:
    drafted = visits.seed(drafted_bounds)
    entry = {"meaning": "adopted by the board", **instead}

    answer = sign(visits.of(Role.MEDICAL_DIRECTOR), drafted.fingerprint, **entry)

    assert answer.status_code == 422
    assert told in answer.text
    assert f'value="{entry["meaning"]}"' in answer.text
    assert "never on a page" not in answer.text


def test_a_director_who_drafted_it_is_told_that_somebody_else_must_sign(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    dana.post(BOUNDS, data={"text": STRICTER})

    page = dana.get(f"{FIRST}/sign")

    assert "Somebody else must draft what you sign." in page.text
    assert "<button>Sign version" not in page.text


def test_other_text_than_was_shown_is_not_signed(visits: Visits) -> None:
    visits.seed(drafted_bounds)

    answer = sign(visits.of(Role.MEDICAL_DIRECTOR), "0" * 64)

    assert answer.status_code == 409
    assert "default, not adopted" in visits.of(Role.CREW).get(BOUNDS).text


def test_a_signed_version_is_not_signed_again(visits: Visits) -> None:
    visits.seed(adopted_bounds)

    assert visits.of(Role.MEDICAL_DIRECTOR).get(f"{FIRST}/sign").status_code == 409


@pytest.mark.parametrize("role", [Role.CREW, Role.FLEET_MANAGER, Role.REVIEWER, Role.ADMINISTRATOR])
def test_who_may_not_is_told_so(visits: Visits, role: Role) -> None:
    drafted = visits.seed(drafted_bounds)
    somebody = visits.of(role)

    assert upload(somebody, DEFAULT).status_code == 403
    assert somebody.get(f"{FIRST}/sign").status_code == 403
    assert sign(somebody, drafted.fingerprint).status_code == 403


@pytest.mark.parametrize("path", ["/7", "/7/bounds.csv", "/7/sign"])
def test_a_version_that_is_not_there_is_not_found(visits: Visits, path: str) -> None:
    assert visits.of(Role.MEDICAL_DIRECTOR).get(BOUNDS + path).status_code == 404


def test_a_report_says_which_bounds_judged_it(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(a_device)
    visits.seed(a_report)
    visits.now += DAY
    now = visits.now
    visits.seed(lambda tx: adopted_bounds(tx, now=now))
    visits.seed(lambda tx: a_report(tx, read_at=now))
    femi = visits.of(Role.FLEET_MANAGER)

    pages = [femi.get(f"/skerry/devices/boat-3/reports/{number}").text for number in (1, 2)]

    assert "judged by the outer bounds of then: default, not adopted." in pages[0]
    assert f"judged by the outer bounds of then: {NAME}." in pages[1]
