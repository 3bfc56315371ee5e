"""The policy desk as its author feels it: a wall moved, and the age corridor drawn.

Both against a bare page of the same service, for a full policy: the demo's.
"""

import atexit
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path

from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.sign_ins import sign_in
from app.demo.profile import document
from app.domain.people import Role
from app.lookups.policy import open_revision
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.storage.migrating import open_database
from app.web.policy_pictures import picture
from app.web.sessions import COOKIE
from tests.bench.contests import Contest, Rival
from tests.builders import PASSWORD, a_draft, a_person, a_signed_revision, an_agency

SIZE = "5 categories × 40 alarms, 7 overlays, 3 models"
DRAFT = "/skerry/policy/2"
BARE = "/help/caution"
WALLS = ("young-child/heart-rate-high", "adult/spo2-low", "infant/respiratory-rate-high")


def contests() -> list[Contest]:
    desk = _open_desk()
    bare = Rival("a bare page", desk.bare, answers=False)
    return [
        Contest(
            "wall moved to swapped fragment", SIZE, Rival("move a wall", desk.move), (bare,),
            "at most 50 ms",
        ),
        Contest(
            "corridor picture", SIZE, Rival("draw it, warm", desk.draw), (bare,), "at most 20 ms"
        ),
    ]  # fmt: skip


@dataclass
class _Desk:
    """Anna in front of a draft, with another revision in force."""

    client: TestClient
    draw: Callable[[], str]
    edit_version: int = 1

    def __post_init__(self) -> None:
        # Every move makes a policy that nobody has seen: what was kept of an old one is no help.
        self._moves = cycle([(wall, steps) for steps in (-1, -1, 1) for wall in WALLS])

    def bare(self) -> bytes:
        return self.client.get(BARE).content

    def move(self) -> bytes:
        wall, steps = next(self._moves)
        typed = {"steps": steps, "edit_version": self.edit_version, "age": "3 y"}
        answer = self.client.post(f"{DRAFT}/wall/{wall}", data=typed, headers={"HX-Request": "1"})
        if answer.status_code != 200:
            raise RuntimeError(f"a wall could not be moved: {answer.status_code}")
        self.edit_version += 1
        return answer.content


def _open_desk() -> _Desk:
    folder = Path(tempfile.mkdtemp(prefix="marchstone-bench-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    now = datetime.now(UTC)
    database = open_database(f"sqlite:///{folder / 'bench.db'}", now=now)
    with database.writing() as tx:
        token = _seed(tx, now)
    service = build(Settings(data_dir=folder, database_url="sqlite:///unused"), database)
    client = TestClient(service, cookies={COOKIE: token}, follow_redirects=False)
    return _Desk(client, _drawing(database, now))


def _seed(tx: Session, now: datetime) -> str:
    """The token of Anna's session."""
    a_signed_revision(tx, now=now, document=document(2))
    a_draft(tx, document=document(3))
    anna = a_person(tx, Role.AUTHOR)
    return sign_in(
        tx, agency=anna.agency, username=anna.username, password=PASSWORD, now=now,
        address="127.0.0.1",
    )  # fmt: skip


def _drawing(database: Database, now: datetime) -> Callable[[], str]:
    with database.reading() as tx:
        agency = an_agency(tx)
        found = open_revision(tx, agency_id=agency.id, number=2, now=now)
    return lambda: picture(DRAFT, found)
