"""The paper, and the page that confirms it to anybody without showing a limit."""

import re
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from starlette.testclient import TestClient

from app.actions.revisions import move_revision
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.domain.revisions import StoredRevision
from app.storage.database import Database
from tests.builders import DAY, HOUR, NOW, a_draft, a_person, a_signed_revision
from tests.printed import qr_codes, text
from tests.web.policies import POLICY
from tests.web.visits import Visits

PAPER = f"{POLICY}/1/paper.pdf"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def signed(visits: Visits) -> StoredRevision:
    return visits.seed(a_signed_revision)


def stranger(visits: Visits) -> TestClient:
    return TestClient(visits.app, follow_redirects=False)


def confirming(visits: Visits, fingerprint: str, query: str = "") -> str:
    answer = stranger(visits).get(f"/skerry/confirm/{fingerprint}{query}")
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]*>", " ", answer.text.split("<main")[1]).split())


@pytest.mark.usefixtures("signed")
@pytest.mark.parametrize("role", [Role.CREW, Role.MEDICAL_DIRECTOR, Role.ADMINISTRATOR])
def test_everybody_of_the_agency_may_print(visits: Visits, role: Role) -> None:
    answer = visits.of(role).get(PAPER)

    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'attachment; filename="skerry-revision-1.pdf"'
    assert "Signed by Dana (dana), medical director" in text(answer.content)


def test_a_revision_that_is_not_there_has_no_paper(visits: Visits) -> None:
    assert visits.of(Role.CREW).get(PAPER).status_code == 404


def test_the_code_on_the_paper_leads_a_stranger_to_its_confirmation(
    visits: Visits, signed: StoredRevision
) -> None:
    paper = visits.of(Role.CREW).get(PAPER).content

    (code,) = qr_codes(paper)
    split = urlsplit(code)
    answer = stranger(visits).get(f"{split.path}?{split.query}")

    assert split.netloc == "testserver"
    assert split.path == f"/skerry/confirm/{signed.fingerprint}"
    assert answer.status_code == 200
    assert "in force now" in answer.text
    assert "Known: it is entry" in answer.text


def test_the_public_address_stands_in_the_code(visits: Visits, signed: StoredRevision) -> None:
    settings = visits.app.state.settings
    visits.app.state.settings = settings.model_copy(
        update={"public_url": "https://marchstone.example.org"}
    )

    (code,) = qr_codes(visits.of(Role.CREW).get(PAPER).content)

    assert code.startswith(f"https://marchstone.example.org/skerry/confirm/{signed.fingerprint}?")


def test_the_confirmation_names_agency_revision_signer_role_and_time(
    visits: Visits, signed: StoredRevision
) -> None:
    told = confirming(visits, signed.fingerprint)

    assert "Skerry Ambulance, revision 1 of its alarm-limit policy" in told
    assert "Dana, medical director, 2 Mar 2026, 09:00 GMT" in told
    assert "Ledger head" not in told


def test_the_confirmation_shows_no_limit_and_leads_nowhere_inside(
    visits: Visits, signed: StoredRevision
) -> None:
    crew = visits.of(Role.CREW)

    for client in (stranger(visits), crew):
        page = client.get(f"/skerry/confirm/{signed.fingerprint}")
        body = page.text.split("<main")[1].split("</main>")[0]
        shown = re.sub(r"<code>.*?</code>|<[^>]*>", " ", body)
        assert "href" not in body
        assert 'href="/skerry' not in page.text
        assert not re.search(r"/min|mmHg|%|Heart|Preschool|below|above", shown)
        assert page.headers["X-Robots-Tag"] == "noindex"


def test_a_known_head_is_told_by_its_entry_and_an_unknown_one_is_called_so(
    visits: Visits, signed: StoredRevision
) -> None:
    known = confirming(visits, signed.fingerprint, f"?head={'f' * 64}")

    assert "Ledger head Not known." in known


@pytest.mark.parametrize(
    ("later", "told"),
    [
        (0 * HOUR, "signed, not yet in force It is signed, but it is not in force yet."),
        (HOUR, "in force This is the alarm-limit policy of Skerry Ambulance in force now."),
        (2 * HOUR, "no longer in force Do not use this paper. A later revision has replaced it"),
    ],
)
def test_the_confirmation_says_first_whether_the_paper_may_be_used(
    visits: Visits, later: object, told: str
) -> None:
    first = visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + HOUR))
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + 2 * HOUR))
    visits.now = NOW + later  # type: ignore[operator]

    assert f"Revision 1: {told}" in confirming(visits, first.fingerprint)


def test_a_withdrawn_paper_must_not_be_used(visits: Visits, signed: StoredRevision) -> None:
    visits.seed(
        lambda tx: move_revision(
            tx,
            number=1,
            to=RevisionStatus.WITHDRAWN,
            by=a_person(tx, Role.MEDICAL_DIRECTOR),
            now=NOW + HOUR,
            note="wrong leads",
        )
    )
    visits.now = NOW + DAY

    told = confirming(visits, signed.fingerprint)

    assert "withdrawn Do not use this paper. It was withdrawn on 2 Mar 2026, 10:00 GMT" in told
    assert "wrong leads" not in told


@pytest.mark.parametrize("fingerprint", ["0" * 64, "nonsense", "%00", "<script>"])
def test_an_unknown_paper_must_not_be_relied_on(visits: Visits, fingerprint: str) -> None:
    visits.seed(a_signed_revision)

    answer = stranger(visits).get(f"/skerry/confirm/{fingerprint}")

    assert answer.status_code == 404
    assert "Do not rely on this paper." in answer.text
    assert "<script>" not in answer.text.replace("<script src", "")


def test_a_draft_is_as_unknown_as_a_forgery(visits: Visits) -> None:
    draft = visits.seed(a_draft)

    answer = stranger(visits).get(f"/skerry/confirm/{draft.fingerprint}")

    assert answer.status_code == 404
    assert "Do not rely on this paper." in answer.text


def test_another_agencys_address_does_not_confirm_it(
    visits: Visits, signed: StoredRevision
) -> None:
    visits.of_outsider()

    answer = stranger(visits).get(f"/elsewhere/confirm/{signed.fingerprint}")

    assert answer.status_code == 404
    assert "Elsewhere Ambulance has signed no policy with this fingerprint" in answer.text


def test_an_agency_that_does_not_exist_confirms_nothing(
    visits: Visits, signed: StoredRevision
) -> None:
    answer = stranger(visits).get(f"/nowhere/confirm/{signed.fingerprint}")

    assert answer.status_code == 404
    assert "There is no such agency." in answer.text
