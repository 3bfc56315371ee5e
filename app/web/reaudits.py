"""Holding what is known of the whole fleet against the policy and bounds of today."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.actions.long_work import ask_reaudit
from app.actions.reaudits import MOST_OPENED, outcome_of, reaudit
from app.domain.findings import Severity
from app.domain.long_work import MOST_AT_ONCE
from app.domain.permissions import Deed, check_may
from app.domain.reaudits import UnsafeToday, Worst
from app.lookups.long_work import fleet_size
from app.lookups.reaudits import ReauditPage, reaudit_today
from app.web.compared import label_of
from app.web.long_work import ASKED, reaudit_words
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Writing

router = APIRouter()
MOST_SHOWN = 200
_WORDS = (
    (None, "nothing off"),
    (Severity.OFF_PROTOCOL, "off protocol"),
    (Severity.UNSAFE, "unsafe"),
)


@dataclass(frozen=True)
class Row:
    """Devices by how they were judged when read; the cells are how they stand today."""

    words: str
    cells: tuple[int, ...]
    total: int


@dataclass(frozen=True)
class Shown:
    unsafe: UnsafeToday
    label: str
    finding: int | None


@dataclass(frozen=True)
class ReauditShown:
    found: ReauditPage
    rows: tuple[Row, ...]
    totals: tuple[int, ...]
    newly: tuple[Shown, ...]
    heads: tuple[str, ...] = tuple(words for _, words in _WORDS)
    most_opened: int = MOST_OPENED

    @property
    def devices(self) -> int:
        """That became unsafe since they were read."""
        return len({one.device for one in self.found.found.newly_unsafe})


@router.get("/{agency}/fleet/reaudit")
def reaudit_page(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.REAUDIT)
    found = reaudit_today(tx, agency_id=person.agency_id, now=now)
    return render(request, "fleet/reaudit.html", _page(found))


@router.post("/{agency}/fleet/reaudit")
def run(person: Member, tx: Writing, now: Now) -> Response:
    """A large fleet is held against it beside the pages."""
    check_may(person, Deed.REAUDIT)
    if fleet_size(tx, agency_id=person.agency_id) > MOST_AT_ONCE:
        number = ask_reaudit(tx, by=person, now=now)
        return done(f"/{person.agency}/work/{number}", ASKED)
    found = reaudit(tx, by=person, now=now)
    told = reaudit_words(**outcome_of(found))
    return done(f"/{person.agency}/fleet/reaudit", told)


def _page(found: ReauditPage) -> ReauditShown:
    counts = found.found.counts
    rows = tuple(
        Row(words, tuple(_of(counts, then, today) for today, _ in _WORDS), found.found.then(then))
        for then, words in _WORDS
    )
    newly = tuple(
        Shown(one, label_of(one.alarm), found.standing.get(one.place))
        for one in found.found.newly_unsafe[:MOST_SHOWN]
    )
    return ReauditShown(found, rows, tuple(found.found.today(one) for one, _ in _WORDS), newly)


def _of(counts: dict[tuple[Worst, Worst], int], then: Worst, today: Worst) -> int:
    return counts[then, today]
