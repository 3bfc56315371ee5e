"""Pages kept as bytes are never older than the policy, and say the same as pages made anew."""

import asyncio
import gzip
from pathlib import Path
from typing import Any

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient
from starlette.types import Message, Receive, Scope, Send

from app.actions.agency_choices import choose
from app.domain.agency_choices import AgencyChoices
from app.domain.people import Role
from app.storage.agencies import agency_by_key
from app.storage.database import Database
from app.storage.revisions import lines_of
from app.web.kept_pages import MOST_KEPT, KeptPages
from tests.builders import (
    DAY,
    HOUR,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
)
from tests.crew_documents import withdrawn
from tests.web.visits import Visits, statements

LIMITS = "/skerry/limits?age=7+mo"
COPY = "/skerry/limits/copy.json"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    return found


@pytest.fixture
def phone(visits: Visits) -> TestClient:
    return TestClient(visits.app, follow_redirects=False)


def made(sent: list[str]) -> list[str]:
    """Statements of a page that is made anew, without the look whether anything happened."""
    return [one for one in sent if "ledger_head" not in one]


@pytest.mark.parametrize("address", [LIMITS, COPY])
def test_asked_again_the_database_is_asked_at_most_for_one_row(
    visits: Visits, phone: TestClient, address: str
) -> None:
    first = phone.get(address)

    with statements(visits.database) as sent:
        again = phone.get(address)

    assert made(sent) == []
    assert again.content == first.content


def test_a_kept_page_has_every_header_of_a_fresh_one(visits: Visits, phone: TestClient) -> None:
    phone.get(LIMITS)
    kept = phone.get(LIMITS).headers
    fresh = visits.of(Role.CREW).get(LIMITS).headers  # somebody signed in gets no kept page

    for name in ("content-security-policy", "x-content-type-options", "cache-control"):
        assert kept[name] == fresh[name]
    assert kept["content-type"] == fresh["content-type"]
    assert kept["vary"] == "Cookie, Accept-Encoding"


def test_it_is_packed_for_who_can_unpack_it(phone: TestClient) -> None:
    plain = phone.get(LIMITS, headers={"Accept-Encoding": "identity"})
    with phone.stream("GET", LIMITS, headers={"Accept-Encoding": "gzip, br"}) as answer:
        sent = b"".join(answer.iter_raw())

    assert "content-encoding" not in plain.headers
    assert answer.headers["content-encoding"] == "gzip"
    assert gzip.decompress(sent) == plain.content
    assert int(answer.headers["content-length"]) == len(sent) < len(plain.content) / 3


def test_who_has_it_gets_only_a_word(phone: TestClient) -> None:
    tag = phone.get(LIMITS).headers["etag"]

    same = phone.get(LIMITS, headers={"If-None-Match": tag})

    assert (same.status_code, same.content) == (304, b"")
    assert same.headers["etag"] == tag


def test_a_new_revision_is_shown_at_once(visits: Visits, phone: TestClient) -> None:
    before = phone.get(LIMITS)
    document = a_document()
    document["settings"]["infant"]["heart-rate-low"]["limit"] = 95
    visits.seed(lambda tx: a_signed_revision(tx, document=document))

    after = phone.get(LIMITS, headers={"If-None-Match": before.headers["etag"]})

    assert after.status_code == 200
    assert "Revision 2" in after.text


def test_a_revision_that_begins_later_is_shown_from_its_time_on(
    visits: Visits, phone: TestClient
) -> None:
    begins = visits.now + HOUR
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=begins))
    assert "Revision 1" in phone.get(LIMITS).text

    visits.now = begins
    assert "Revision 2" in phone.get(LIMITS).text


def test_a_day_that_ends_is_enough_to_expire(visits: Visits, phone: TestClient) -> None:
    visits.now += 365 * DAY
    assert "Expired on" not in phone.get(LIMITS).text

    visits.now += DAY
    assert "Expired on" in phone.get(LIMITS).text


def test_the_copy_follows_what_the_agency_chooses(visits: Visits, phone: TestClient) -> None:
    assert phone.get(COPY).json()["fresh_hours"] == 24
    choices = AgencyChoices(copy_hours=7)
    visits.seed(lambda tx: choose(tx, choices=choices, by=a_person(tx), now=visits.now))

    assert phone.get(COPY).json()["fresh_hours"] == 7


def test_a_withdrawal_is_shown_at_once(visits: Visits, phone: TestClient) -> None:
    visits.now += HOUR
    assert "Withdrawn" not in phone.get(LIMITS).text
    visits.seed(lambda tx: withdrawn(tx, now=visits.now))

    assert "Withdrawn on" in phone.get(LIMITS).text


def test_each_theme_has_its_own_page_and_nobody_signed_in_gets_anothers(
    visits: Visits, phone: TestClient
) -> None:
    cruz = visits.of(Role.CREW)
    phone.get(LIMITS)

    assert "Cruz" in cruz.get(LIMITS).text
    assert "Cruz" not in phone.get(LIMITS).text
    phone.cookies["marchstone_theme"] = "night"
    assert 'data-theme="night"' in phone.get(LIMITS).text


@pytest.mark.parametrize(
    ("address", "status"),
    [("/skerry/limits?age=seven", 422), ("/skerry/limits?n=7&unit=mo", 303), ("/no/limits", 404)],
)
def test_a_refusal_is_never_kept(phone: TestClient, address: str, status: int) -> None:
    assert [phone.get(address).status_code for _ in range(2)] == [status, status]


def test_no_more_is_kept_than_fits_whatever_strangers_ask(
    visits: Visits, phone: TestClient
) -> None:
    phone.get(LIMITS)
    for days in range(MOST_KEPT):
        phone.get(f"/skerry/limits?category=infant&x={days}")

    with statements(visits.database) as sent:
        phone.get(LIMITS)
    assert made(sent) != []


def test_what_the_look_up_does_not_show_drops_no_page(
    visits: Visits, phone: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = phone.get(LIMITS)
    visits.seed(a_device)
    visits.seed(a_report)

    def again(*_: object, **__: object) -> None:
        raise AssertionError("the page is made anew")

    monkeypatch.setattr("app.web.limits.policy_to_show", again)

    assert phone.get(LIMITS).content == before.content


def test_what_is_answered_from_here_is_counted(visits: Visits, phone: TestClient) -> None:
    tag = phone.get(LIMITS).headers["etag"]
    phone.get(LIMITS)
    phone.get(LIMITS, headers={"If-None-Match": tag})

    def counted(status: int) -> float | None:
        told = {"method": "GET", "route": "/{agency}/limits", "status": str(status)}
        found: float | None = visits.app.state.counts.registry.get_sample_value(
            "marchstone_requests_total", told
        )
        return found

    assert (counted(200), counted(304)) == (2, 1)


def test_nobody_waits_for_a_change_of_which_nobody_has_been_told(visits: Visits) -> None:
    """And whoever made it finds it in the look-up when he is told."""
    meanwhile: list[tuple[bytes, list[str]]] = []

    async def service(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["method"] == "POST":
            visits.seed(lambda tx: a_signed_revision(tx, document=a_document()))
            with statements(visits.database) as sent:
                page = await asked(pages, "GET")
            meanwhile.append((page, sent))
        with visits.database.reading() as tx:
            agency = agency_by_key(tx, "skerry")
            assert agency is not None
            count = len(lines_of(tx, agency.id))
        await PlainTextResponse(f"{count} signed")(scope, receive, send)

    pages = KeptPages(service, state=visits.app.state, clock=lambda: 0.0)

    async def one_after_another() -> list[bytes]:
        return [await asked(pages, method) for method in ("GET", "POST", "GET")]

    before, changed, after = asyncio.run(one_after_another())
    assert meanwhile == [(before, [])]
    assert (before, changed, after) == (b"1 signed", b"2 signed", b"2 signed")


async def asked(pages: KeptPages, method: str) -> bytes:
    told: list[Message] = []

    async def note(message: Message) -> None:
        told.append(message)

    async def nothing() -> Message:
        return {"type": "http.disconnect"}

    scope: dict[str, Any] = {"type": "http", "method": method, "headers": []}
    scope |= {"path": "/skerry/limits", "query_string": b"age=7+mo"}
    await pages(scope, nothing, note)
    return bytes(told[1]["body"])


def test_hundreds_who_ask_at_once_have_it_made_once(visits: Visits) -> None:
    made: list[str] = []

    async def service(scope: Scope, receive: Receive, send: Send) -> None:
        made.append(scope["path"])
        await asyncio.sleep(0.05)
        await PlainTextResponse("limits")(scope, receive, send)

    async def all_at_once() -> list[bytes]:
        pages = KeptPages(service, state=visits.app.state)
        return await asyncio.gather(*(asked(pages, "GET") for _ in range(200)))

    assert asyncio.run(all_at_once()) == [b"limits"] * 200
    assert made == ["/skerry/limits"]
