"""What the tests of the policy's pages share: addresses, a typed cell, and what was stored."""

import json
import re
from typing import Any

from httpx2 import Response
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.revisions import StoredRevision
from app.lookups.revisions import revision
from tests.builders import a_document, a_draft, an_agency
from tests.web.visits import Visits

POLICY = "/skerry/policy"
DRAFT = f"{POLICY}/1"
CELL = f"{DRAFT}/cell/preschool/heart-rate-high"
WALL = f"{DRAFT}/wall/preschool/heart-rate-high"
CATEGORIES = f"{DRAFT}/categories"
HTMX = {"HX-Request": "true"}
ON = {
    "state": "on",
    "limit": "175",
    "priority": "medium",
    "delay_s": "0",
    "latching": "no",
    "reason": "agreed",
    "source": "common practice",
    "edit_version": "1",
}
SILENT = "Heart rate can rise to 185 /min unannounced"
NOT_THE_PASSWORD = "never on a page"


def an_unsafe_draft(tx: Session) -> StoredRevision:
    """Above 180 a heart rate at 1 to 5 years is danger (AHA PALS)."""
    return a_draft(tx, document=a_document({"heart-rate-high": 185}))


def stored(visits: Visits, number: int = 1) -> dict[str, Any]:
    with visits.database.reading() as tx:
        agency = an_agency(tx)
        found = revision(tx, agency_id=agency.id, number=number, now=visits.now)
    document: dict[str, Any] = json.loads(found.document)
    return document


def setting(visits: Visits, alarm: str = "heart-rate-high") -> dict[str, Any] | None:
    found: dict[str, Any] | None = stored(visits)["settings"]["preschool"].get(alarm)
    return found


def field(page: Response, name: str) -> str:
    """The value of a text field on the page."""
    found = re.search(rf'name="{name}" type="text"[^>]*value="([^"]*)"', page.text)
    assert found is not None
    return found[1]


def upload(client: TestClient, text: str) -> Response:
    return client.post(f"{POLICY}/upload", files={"profile": ("ours.json", text.encode())})
