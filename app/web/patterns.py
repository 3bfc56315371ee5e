"""Why devices differ: what goes with their deviations better than chance does."""

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.patterns import Pattern
from app.domain.permissions import Deed, check_may
from app.lookups.patterns import PatternsPage, patterns_now
from app.web.compared import label_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Reading

router = APIRouter()
_OF = {
    "model": "of model",
    "station": "at",
    "software": "on software",
    "reader": "read by",
    "trigger": "read because of:",
    "day read": "read on",
}


@dataclass(frozen=True)
class PatternShown:
    pattern: Pattern
    sentence: str
    alike: str


@dataclass(frozen=True)
class WhyPage:
    counts: PatternsPage
    patterns: list[PatternShown]


@router.get("/{agency}/fleet/why")
def why(request: Request, person: Member, tx: Reading) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = patterns_now(tx, agency_id=person.agency_id)
    page = WhyPage(found, [_shown(one) for one in found.found])
    return render(request, "fleet/why.html", page)


def _shown(pattern: Pattern) -> PatternShown:
    alike = ", ".join(f"{attribute} {value}" for attribute, value in pattern.alike)
    return PatternShown(pattern, sentence(pattern), alike)


def sentence(pattern: Pattern) -> str:
    """“All 9 devices on software 3.2 hold EtCO₂ low at 20; none of the other 37 do.”"""
    found, of = pattern.with_value, pattern.of_with
    among = f"All {of} devices" if found == of else f"{found} of the {of} devices"
    shared = f"{_OF[pattern.attribute]} {pattern.value}"
    held = f"{label_of(pattern.question)} {pattern.answer}"
    verb = "holds" if found == 1 else "hold"
    others = f"none of the other {pattern.of_without} do"
    if pattern.without:
        does = "does" if pattern.without == 1 else "do"
        others = f"{pattern.without} of the other {pattern.of_without} {does}"
    return f"{among} {shared} {verb} {held}; {others}."
