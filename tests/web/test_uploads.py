"""A file of readings: chosen, looked at, taken. Nothing is stored before it is taken."""

import html
from pathlib import Path

import pytest
import sqlalchemy as sa
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from app.web.security import LARGEST_BODY, LARGEST_READINGS
from tests.builders import a_device, a_report, a_signed_revision, as_signed, limit
from tests.reading_files import BAD_ROWS, GOOD, UNREADABLE, a_file, a_whole_file, digest
from tests.web.visits import Visits

HERE = "/skerry/fleet/readings"
STRAYED = a_whole_file(as_signed(heart_rate_high=limit(200), heart_rate_low=limit(80)))
KEPT = ("report", "deviation", "finding", "device_now", "ledger", "pending_upload", "layout")


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    return visits.of(Role.FLEET_MANAGER)


def counted(visits: Visits) -> dict[str, int]:
    with visits.database.reading() as tx:
        return {
            name: tx.execute(sa.text(f"SELECT count(*) FROM {name}")).scalar_one() for name in KEPT
        }


def sent(client: TestClient, content: bytes, name: str = "round.csv") -> Response:
    return client.post(HERE, files={"file": (name, content, "text/csv")})


def take(client: TestClient, content: bytes, **more: str) -> Response:
    return client.post(f"{HERE}/take", data={"fingerprint": digest(content), **more})


def test_the_fleet_leads_there_and_the_form_tells_what_it_wants(femi: TestClient) -> None:
    assert f'href="{HERE}"' in femi.get("/skerry/fleet").text

    page = femi.get(HERE).text

    assert 'enctype="multipart/form-data"' in page
    assert "device, read_at, state_read, preset, alarm, reading" in page
    assert "verifies none" in page


def test_the_preview_says_what_it_means_and_stores_no_report(
    visits: Visits, femi: TestClient
) -> None:
    before = counted(visits)

    answer = sent(femi, STRAYED)

    assert answer.status_code == 200
    assert "Nothing of it is stored yet" in answer.text
    assert "<dt>Readings</dt><dd>12</dd>" in answer.text
    assert "1 unsafe, 1 off-protocol" in answer.text
    unsafe = answer.text.index("Heart rate can rise from 170 to 200 /min unannounced.")
    assert unsafe < answer.text.index("Heart rate sounds already at 80 /min instead of 75")
    assert "boat-3, power-on, preschool (1 y to 5 y)" in answer.text
    assert counted(visits) == before | {"pending_upload": 1}


def test_taken_whole_it_is_on_the_wall(visits: Visits, femi: TestClient) -> None:
    sent(femi, STRAYED)

    answer = take(femi, STRAYED)

    assert (answer.status_code, answer.headers["location"]) == (303, "/skerry/fleet")
    assert "1 reports with 12 readings were taken in." in femi.get("/skerry/fleet").text
    assert "somebody not named (sent in by Femi)" in femi.get("/skerry/devices/boat-3").text
    assert counted(visits)["pending_upload"] == 0


def test_the_report_says_that_it_came_in_by_a_file(femi: TestClient) -> None:
    row = a_file(f"{GOOD},Tess <b>", more=",reader")
    sent(femi, row)
    take(femi, row)

    page = femi.get("/skerry/devices/boat-3/reports/1").text

    assert "a row of a file" in page
    assert f'<code title="{digest(row)}">{digest(row)[:12]}</code>, line 2' in page
    assert "Read by Tess &lt;b&gt; (sent in by Femi)" in page


def test_the_same_file_again_is_known(visits: Visits, femi: TestClient) -> None:
    sent(femi, STRAYED)
    take(femi, STRAYED)
    before = counted(visits)

    page = sent(femi, STRAYED).text
    take(femi, STRAYED)

    assert "0 new, 1 known already and left alone" in page
    assert counted(visits) == before


class TestRefusedRows:
    ROWS = a_file(GOOD, *(row for row, _ in BAD_ROWS.values()))

    def test_each_is_told_by_line_and_column(self, femi: TestClient) -> None:
        page = html.unescape(sent(femi, self.ROWS).text)

        for line, (_, why) in enumerate(BAD_ROWS.values(), start=3):
            assert f"<li>line {line}, {why}</li>" in page

    def test_without_the_tick_nothing_is_stored(self, visits: Visits, femi: TestClient) -> None:
        sent(femi, self.ROWS)
        before = counted(visits)

        answer = take(femi, self.ROWS)

        assert answer.status_code == 422
        assert "line 3, device" in answer.text
        assert counted(visits) == before

    def test_with_the_tick_the_good_rows_are_taken(self, femi: TestClient) -> None:
        page = sent(femi, self.ROWS).text
        assert f"Take the good rows and leave {len(BAD_ROWS)} out" in page

        take(femi, self.ROWS, good_rows="yes")

        told = femi.get("/skerry/fleet").text
        assert (
            f"1 reports with 1 readings were taken in; {len(BAD_ROWS)} rows were left out" in told
        )

    @pytest.mark.parametrize("name", BAD_ROWS)
    def test_a_file_of_nothing_else_is_refused_whole(
        self, visits: Visits, femi: TestClient, name: str
    ) -> None:
        row, why = BAD_ROWS[name]
        before = counted(visits)

        answer = sent(femi, a_file(row))

        assert answer.status_code == 422
        assert f"line 2, {why}" in html.unescape(answer.text)
        assert "<script>alert" not in answer.text
        assert counted(visits) == before

    def test_more_than_a_hundred_are_counted(self, femi: TestClient) -> None:
        page = sent(femi, a_file(*[BAD_ROWS["NaN"][0]] * 130)).text

        assert "and 30 more" in page


OTHER_COLUMNS = {"no header", "unknown column"}


@pytest.mark.parametrize("name", sorted(OTHER_COLUMNS))
def test_other_columns_lead_to_the_page_where_they_are_named(
    visits: Visits, femi: TestClient, name: str
) -> None:
    answer = sent(femi, UNREADABLE[name][0])

    assert answer.status_code == 303
    assert answer.headers["location"].endswith("/fleet/readings/columns")
    assert counted(visits)["report"] == 0


@pytest.mark.parametrize("name", sorted(set(UNREADABLE) - OTHER_COLUMNS - {"empty"}))
def test_what_cannot_be_read_is_refused(visits: Visits, femi: TestClient, name: str) -> None:
    content, why = UNREADABLE[name]
    before = counted(visits)

    answer = sent(femi, content)

    assert answer.status_code == 422
    assert why in answer.text
    assert counted(visits) == before


@pytest.mark.parametrize("given", [{"file": ("round.csv", b"", "text/csv")}, {}])
def test_no_file_is_told(femi: TestClient, given: dict[str, tuple[str, bytes, str]]) -> None:
    answer = femi.post(HERE, files=given or {"other": ("", b"x")})

    assert answer.status_code == 422
    assert "choose a file that is not empty" in answer.text


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("<img src=x onerror=alert(1)>.csv", "&lt;img src=x onerror=alert(1)&gt;.csv"),
        ("../../etc/passwd", "What passwd would change"),
        ("C:\\rounds\\may.csv", "What may.csv would change"),
        ("x" * 300, f"What {'x' * 100} would change"),
    ],
)
def test_a_hostile_name_is_only_a_name(femi: TestClient, name: str, shown: str) -> None:
    page = sent(femi, STRAYED, name).text

    assert shown in page
    assert "<img" not in page


def test_nobody_takes_what_somebody_else_looked_at(visits: Visits, femi: TestClient) -> None:
    sent(femi, STRAYED)

    answer = take(visits.of(Role.TECHNICIAN), STRAYED)

    assert answer.status_code == 409
    assert counted(visits)["report"] == 0


def test_what_changed_meanwhile_is_looked_at_again(visits: Visits, femi: TestClient) -> None:
    sent(femi, STRAYED)
    visits.seed(a_report)

    answer = take(femi, STRAYED)

    assert answer.status_code == 422
    assert "boat-3 has another report of preschool at that time already" in answer.text
    assert counted(visits)["report"] == 1


@pytest.mark.parametrize(
    ("role", "status"),
    [(Role.TECHNICIAN, 200), (Role.CREW, 403), (Role.MEDICAL_DIRECTOR, 403)],
)
def test_who_may(visits: Visits, role: Role, status: int) -> None:
    client = visits.of(role)

    assert client.get(HERE).status_code == status
    assert sent(client, STRAYED).status_code == status
    assert (HERE in client.get("/skerry/fleet").text) is (status == 200)


def test_a_file_may_be_larger_than_a_form_and_has_a_limit_of_its_own(femi: TestClient) -> None:
    padded = b"\n".join([GOOD.encode(), b" " * LARGEST_BODY])

    assert sent(femi, padded).status_code == 303  # its first line is no header
    answer = femi.post(HERE, content=b"", headers={"Content-Length": str(LARGEST_READINGS + 1)})
    assert answer.status_code == 413
