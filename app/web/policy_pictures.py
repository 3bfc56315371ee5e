"""The age corridor by itself: as a picture to keep, and as a table to read."""

import re
from dataclasses import dataclass, replace
from functools import cache

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.ages import BIRTH
from app.domain.corridor_table import LaneTable, corridor_table
from app.domain.permissions import Deed, check_may
from app.domain.profiles import Profile
from app.domain.revisions import StoredRevision
from app.lookups.policy import OpenRevision, open_revision
from app.lookups.policy_judged import judged
from app.places import folder
from app.web.policy_corridor import CorridorView, corridor_view, sources_view
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import Looking, base_of
from app.web.render import environment, render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}")
_DAY = re.compile(r":root \{(.*?)\}", re.DOTALL)
_COLOUR = re.compile(r"--([a-z-]+): ([^;]+);")


@dataclass(frozen=True)
class PicturePage:
    """`styles` stand in the file: it must look the same wherever it is opened."""

    profile: Profile
    revision: StoredRevision
    drawn: CorridorView
    styles: str


@dataclass(frozen=True)
class TablePage:
    base: str
    profile: Profile
    revision: StoredRevision
    told: str
    tables: tuple[LaneTable, ...]
    bounds: str
    desk: Desk


@router.get("/corridor.svg")
def corridor_file(person: Member, tx: Reading, now: Now, number: int, looking: Looking) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    name = f"{person.agency}-revision-{number}-corridor.svg"
    return Response(
        picture(base_of(person, number), found, sources=looking.sources),
        media_type="image/svg+xml",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def picture(base: str, found: OpenRevision, *, sources: bool = False) -> str:
    """An SVG file that needs nothing beside it."""
    answer = judged(found)
    drawn = corridor_view(base, found, answer)
    if sources:
        drawn = replace(drawn, sources=sources_view(answer, BIRTH))
    page = PicturePage(found.profile, found.revision, drawn, _styles())
    return environment().get_template("policy/corridor.svg").render(page=page)


@cache
def _styles() -> str:
    """By day, and with every colour written out: not every program knows named ones."""
    sheets = (folder("static") / name for name in ("app.css", "drawing.css"))
    named, drawing = (sheet.read_text(encoding="utf-8") for sheet in sheets)
    day = _DAY.search(named)
    for name, colour in _COLOUR.findall(day[1] if day else ""):
        drawing = drawing.replace(f"var(--{name})", colour)
    return drawing.partition("@media print")[0]


@router.get("/corridor")
def corridor_as_table(
    request: Request, person: Member, tx: Reading, now: Now, number: int
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    base, answer = base_of(person, number), judged(found)
    page = TablePage(
        base=base,
        profile=found.profile,
        revision=found.revision,
        told=corridor_view(base, found, answer).told,
        tables=corridor_table(found.profile, answer.corridor, bounds=found.bounds),
        bounds=found.bounds.name,
        desk=desk_of(found, answer.findings, person),
    )
    return render(request, "policy/corridor_table.html", page)
