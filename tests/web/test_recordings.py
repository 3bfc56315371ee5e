"""The library of recordings: what comes in, what is refused, what is invented."""

import html
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from app.web.security import LARGEST_BODY, LARGEST_READINGS
from tests import recorded
from tests.builders import PRESET, a_draft, a_signed_revision
from tests.recorded import a_recording
from tests.web.visits import Visits

HERE = "/skerry/recordings"
TYPED = {"name": "Winter transfers", "category": PRESET, "origin": "our own boats"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    return found


@pytest.fixture
def quinn(visits: Visits) -> TestClient:
    return visits.of(Role.QUALITY_OFFICER)


def send(client: TestClient, content: str | bytes, **typed: str) -> Response:
    raw = content if isinstance(content, bytes) else content.encode()
    return client.post(HERE, data=TYPED | typed, files={"file": ("trends", raw)})


def told(answer: Response) -> str:
    return html.unescape(answer.text)


@pytest.mark.parametrize("content", [recorded.as_csv(), recorded.as_parquet()])
def test_a_file_becomes_a_recording(quinn: TestClient, content: str | bytes) -> None:
    answer = send(quinn, content)

    assert answer.status_code == 303
    assert answer.headers["location"] == HERE
    page = told(quinn.get(HERE))
    assert "Recording 1 is kept: 2 patients, 0.0 hours." in page
    assert "1. Winter transfers" in page
    assert "2 patients, 0.0 h, every 1 s: Heart rate, SpO₂" in page
    assert "our own boats" in page
    assert "p1" not in page.partition("<table>")[2].partition("</table>")[0]


@pytest.mark.parametrize(
    ("content", "typed", "words"),
    [
        (recorded.as_csv(more="surname"), {}, "looks like a name: take the column out"),
        (recorded.as_csv(more="DOB"), {}, "looks like a date of birth: take the column out"),
        (recorded.as_csv(more="mrn"), {}, "looks like a record number: take the column out"),
        (recorded.as_csv(first="Cruz Bell"), {}, "a value looks like a name"),
        (recorded.as_csv(second="12345678"), {}, "a value looks like a record number"),
        ("patient,second,spo2\np1,0,127\n", {}, "no SpO₂ is outside 0 to 100 %"),
        ("patient,second,spo2\np1,0,\n", {}, "nothing was measured in it"),
        (recorded.as_csv(more="weight"), {}, "unknown column"),
        ("", {}, "choose a file that is not empty"),
        ("nothing", {}, "this column is missing"),
        (b"PAR1x", {}, "this Parquet file cannot be read"),
        (recorded.as_csv(), {"category": ""}, "choose the category of its patients"),
        (recorded.as_csv(), {"category": "toddler"}, "choose the category of its patients"),
        (recorded.as_csv(), {"name": "Transfer of Mrs Lund"}, "this seems to tell a name"),
        (recorded.as_csv(), {"name": " "}, "this must not be empty"),
    ],
)
def test_what_is_refused_is_said_and_nothing_typed_is_lost(
    quinn: TestClient, content: str | bytes, typed: dict[str, str], words: str
) -> None:
    answer = send(quinn, content, origin="from the <north>", **typed)

    assert answer.status_code == 422
    assert words in told(answer)
    assert "Nothing was stored." in told(answer)
    assert 'value="from the &lt;north&gt;"' in answer.text
    assert "Cruz Bell" not in answer.text
    assert "There is no recording yet" in told(quinn.get(HERE))


def test_where_it_comes_from_names_nobody_either(quinn: TestClient) -> None:
    answer = send(quinn, recorded.as_csv(), origin="boat 3, born 2019")

    assert answer.status_code == 422
    assert "this seems to tell a date of birth: no person may be named" in told(answer)
    assert "nobody is named" in told(answer)


def test_a_form_without_a_file_is_told_so(quinn: TestClient) -> None:
    answer = quinn.post(HERE, data=TYPED)

    assert answer.status_code == 422
    assert "choose a file that is not empty" in told(answer)


def test_the_same_trends_twice_are_refused(quinn: TestClient) -> None:
    send(quinn, recorded.as_csv())

    answer = send(quinn, recorded.as_parquet(), name="Again")

    assert answer.status_code == 422
    assert "these trends are in the library already, as recording 1" in told(answer)


def test_a_cohort_can_be_invented_and_says_so_wherever_it_stands(quinn: TestClient) -> None:
    asked = {"category": PRESET, "patients": "2", "hours": "1"}

    answer = quinn.post(f"{HERE}/synthetic", data=asked)

    assert answer.status_code == 303
    page = told(quinn.get(HERE))
    assert '<span class="status">synthetic</span>' in page
    assert "SYNTHETIC: 2 invented patients of 1 h, aged 1 y to 5 y" in page
    noise = told(quinn.get(f"/skerry/policy/1/noise?category={PRESET}"))
    assert "SYNTHETIC: 2 invented patients" in noise


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"patients": "1"}, "choose 2 to 200 patients"),
        ({"patients": "many"}, "must be a whole number"),
        ({"patients": ""}, "must be a whole number"),
        ({"hours": "25"}, "choose 1 to 24 hours"),
        ({"category": "toddler"}, "choose a category of the newest revision"),
    ],
)
def test_a_cohort_that_cannot_be_drawn_is_refused(
    quinn: TestClient, asked: dict[str, str], words: str
) -> None:
    data = {"category": PRESET, "patients": "2", "hours": "1"} | asked

    answer = quinn.post(f"{HERE}/synthetic", data=data)

    assert answer.status_code == 422
    assert words in told(answer)
    for name in ("patients", "hours"):
        assert f'name="{name}" type="text"' in answer.text
        assert f'value="{data[name]}"' in answer.text


def test_a_recording_can_be_taken_out(visits: Visits, quinn: TestClient) -> None:
    visits.seed(a_recording)

    answer = quinn.post(f"{HERE}/1/remove")

    assert answer.status_code == 303
    assert "There is no recording yet" in told(quinn.get(HERE))
    assert quinn.post(f"{HERE}/1/remove").status_code == 404


def test_crews_see_the_library_and_change_nothing(visits: Visits) -> None:
    visits.seed(a_recording)
    cruz = visits.of(Role.CREW)

    page = told(cruz.get(HERE))

    assert "1. Winter transfers" in page
    assert "Add a recording" not in page
    assert "Remove" not in page.partition("<main")[2]
    assert send(cruz, recorded.as_csv()).status_code == 403
    assert cruz.post(f"{HERE}/synthetic", data={}).status_code == 403
    assert cruz.post(f"{HERE}/1/remove").status_code == 403


def test_before_there_is_a_policy_the_page_says_what_to_do(
    sqlite_database: Database, tmp_path: Path
) -> None:
    bare = Visits(sqlite_database, tmp_path)
    dana = bare.of(Role.MEDICAL_DIRECTOR)

    assert "start a draft of the policy first" in told(dana.get(HERE))
    bare.seed(a_draft)
    assert "Add a recording" in told(dana.get(HERE))


def test_as_large_a_file_as_the_page_says_is_let_in(quinn: TestClient) -> None:
    assert f"at most {LARGEST_READINGS // 2**20} MiB" in told(quinn.get(HERE))

    def refused(length: int) -> bool:
        headers = {"content-length": str(length), "content-type": "text/plain"}
        return quinn.post(HERE, content=b"", headers=headers).status_code == 413

    assert not refused(LARGEST_BODY + 1)
    assert refused(LARGEST_READINGS + 1)
