"""Work that was asked for and is done outside requests: how far it is, and what came of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.long_work import LongWork, WorkKind, WorkState
from app.domain.permissions import Deed, check_may
from app.lookups.long_work import all_work_seen_by, work_seen_by
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/work")
ASKED = "It is done beside your other work, and goes on when you leave this page."


@dataclass(frozen=True)
class WorkPage:
    work: LongWork
    now: datetime

    @property
    def what(self) -> str:
        name = self.work.about.get("name")
        return f"{self.work.kind.words}, {name}" if name else self.work.kind.words

    @property
    def minutes(self) -> int:
        """Since it was begun."""
        began = self.work.began_at or self.now
        return int((self.now - began).total_seconds() // 60)

    @property
    def came_of_it(self) -> str:
        return _WORDS[self.work.kind](**(self.work.outcome or {}))

    @property
    def looks(self) -> bool:
        return self.work.kind is WorkKind.LOOK

    @property
    def leads_to(self) -> tuple[str, str]:
        """Path after the agency, and its words."""
        if self.work.kind is WorkKind.REAUDIT:
            return "fleet/reaudit", "To the re-audit"
        if self.work.state is WorkState.FAILED:
            return "fleet/readings", "Choose another file"
        if self.looks:
            return "fleet/readings/look", "See what it would change"
        return "fleet", "To the fleet"


@dataclass(frozen=True)
class WorkList:
    pages: list[WorkPage]


def taken_words(*, new: int, known: int, readings: int, refused: int) -> str:
    words = [f"{new:,} reports with {readings:,} readings were taken in"]
    if known:
        words.append(f"{known:,} were known already")
    if refused:
        words.append(f"{'1 row was' if refused == 1 else f'{refused:,} rows were'} left out")
    return f"{'; '.join(words)}."


def looked_words(*, devices: int, reports: int, readings: int, refused: int) -> str:
    words = f"{reports:,} new reports with {readings:,} readings of {devices:,} devices"
    if refused:
        words += f"; {'1 row is' if refused == 1 else f'{refused:,} rows are'} refused"
    return f"{words}. Nothing of it is stored yet."


def reaudit_words(*, devices: int, opened: int, graver: int, left: int) -> str:
    told = [f"{devices:,} devices held against today’s policy", f"{opened} findings opened"]
    if graver:
        told.append(f"{graver} made graver")
    if left:
        told.append(f"{left} are left for another run")
    return ", ".join(told) + "."


_WORDS: dict[WorkKind, Callable[..., str]] = {
    WorkKind.LOOK: looked_words,
    WorkKind.TAKE_IN: taken_words,
    WorkKind.REAUDIT: reaudit_words,
}


@router.get("")
def work_list(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_WORK)
    pages = [WorkPage(one, now) for one in all_work_seen_by(tx, person=person)]
    return render(request, "work/list.html", WorkList(pages))


@router.get("/{work}")
def work_page(request: Request, person: Member, tx: Reading, now: Now, work: int) -> Response:
    return render(request, "work/work.html", _page(person, tx, now, work))


@router.get("/{work}/now")
def work_now(request: Request, person: Member, tx: Reading, now: Now, work: int) -> Response:
    """The part of the page that changes."""
    return render(request, "work/_now.html", _page(person, tx, now, work))


def _page(person: Member, tx: Reading, now: Now, number: int) -> WorkPage:
    check_may(person, Deed.SEE_WORK)
    return WorkPage(work_seen_by(tx, number=number, person=person), now)
