"""The manual: read without signing in."""

from dataclasses import dataclass
from functools import cache

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from app.domain.asvs import SECTIONS as ASVS
from app.domain.asvs import Section, Standing
from app.domain.comparison import Direction
from app.domain.crossed_centiles import CrossedSource, crossed_sources
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.disagreement import COMPARED, Disagreement, disagreement
from app.domain.errors import Fault, NotFound
from app.domain.findings import Severity
from app.domain.hazards import HAZARDS, Hazard
from app.domain.moves_picture import NARROW, MovesPicture, moves_picture
from app.domain.outer_bounds import OuterBound
from app.domain.published_tables import SHELF, PublishedTable
from app.domain.rules import RULES, Rule
from app.domain.settings_of_alarms import Priority
from app.domain.vital_signs import VITAL_SIGNS, VitalSign
from app.exchange.profile_xlsx_rows import at_cell
from app.web.render import render
from app.web.sessions import maybe_person

# The frame shows who is signed in, so the session is looked up although no page needs it.
router = APIRouter(prefix="/help", dependencies=[Depends(maybe_person)])


_SHEET_FAULT = at_cell("Settings!D12", "must be a number", "9o")


@dataclass(frozen=True)
class HelpPage:
    rules: tuple[Rule, ...] = RULES
    bounds: tuple[OuterBound, ...] = DEFAULT_BOUNDS.rows
    tables: tuple[PublishedTable, ...] = SHELF
    priorities: tuple[Priority, ...] = tuple(Priority)
    severities: tuple[Severity, ...] = tuple(Severity)
    directions: tuple[Direction, ...] = tuple(Direction)
    faults: tuple[Fault, ...] = (Fault("must be a number", 4, "limit", "9o"),)
    sheet_fault: Fault = _SHEET_FAULT

    hazards: tuple[Hazard, ...] = HAZARDS
    asvs: tuple[Section, ...] = ASVS

    @property
    def standings(self) -> list[tuple[Standing, int]]:
        return [(one, sum(section.count(one) for section in ASVS)) for one in Standing]

    def open_in(self, section: Section) -> int:
        return section.count(Standing.OPEN)

    @property
    def disagreements(self) -> tuple[tuple[VitalSign, Disagreement], ...]:
        return _disagreements()

    @property
    def crossed(self) -> tuple[CrossedSource, ...]:
        return _crossed()

    def label(self, vital_sign: str) -> str:
        return VITAL_SIGNS[vital_sign].label

    @property
    def picture(self) -> MovesPicture:
        return moves_picture()

    @property
    def narrow_picture(self) -> MovesPicture:
        """For a phone: the table tells what each numbered move is."""
        return moves_picture(NARROW)


@cache
def _crossed() -> tuple[CrossedSource, ...]:
    return crossed_sources()


@cache
def _disagreements() -> tuple[tuple[VitalSign, Disagreement], ...]:
    return tuple((VITAL_SIGNS[key], disagreement(key)) for key in COMPARED)


PAGES = frozenset(
    {
        "corridor",
        "crew",
        "desk",
        "grid",
        "words",
        "caution",
        "scheme",
        "rules",
        "bounds",
        "ranges",
        "reading",
        "shift",
        "findings",
        "redline",
        "bands",
        "accounts",
        "register",
        "changeover",
        "signing",
        "look",
        "models",
        "files",
        "intake",
        "moves",
        "hazards",
        "security",
        "operation",
        "noise",
    }
)


@router.get("/")
def contents(request: Request) -> Response:
    return render(request, "help/index.html", HelpPage())


@router.get("/{name}")
def one(request: Request, name: str) -> Response:
    if name not in PAGES:
        raise NotFound("The manual has no such page.")
    return render(request, f"help/{name}.html", HelpPage())
