"""The redline: any two revisions of the policy held against each other."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.age_axis import MARKS, AxisMark
from app.domain.ages import Age
from app.domain.permissions import Deed, check_may
from app.domain.redline import Rank
from app.domain.redline_effect_words import EffectWords, in_words_of, percent
from app.domain.redline_effects import Held, VitalEffect
from app.domain.redline_pictures import SHARE_HEIGHT, Picture, picture
from app.domain.redline_words import gap_words_at_age
from app.domain.revisions import RevisionLine, StoredRevision
from app.lookups.policy import open_revision
from app.lookups.policy_judged import judged
from app.lookups.redlines import AskedComparison, ComparedRevisions, compared_revisions
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/redline")


@dataclass(frozen=True)
class DrawnEffect:
    effect: VitalEffect
    picture: Picture
    words: EffectWords


@dataclass(frozen=True)
class RedlinePage:
    """`compared` None: there is nothing to compare with."""

    base: str
    revision: StoredRevision
    others: tuple[RevisionLine, ...]
    compared: ComparedRevisions | None
    drawn: tuple[DrawnEffect, ...]
    desk: Desk
    ranks: tuple[Rank, ...] = tuple(rank for rank in Rank if rank is not Rank.WORDS)
    words_only: Rank = Rank.WORDS
    marks: tuple[AxisMark, ...] = MARKS
    share_height: float = SHARE_HEIGHT

    def silent(self, effect: VitalEffect, held: Held, age: Age) -> list[tuple[str, str]]:
        """(grade, words) of what passes unannounced at an age."""
        return [
            (gap.bound.grade, gap_words_at_age(gap, effect.vital.shown))
            for gap in held.silent_at(age)
        ]

    def percent(self, share: float | None) -> str:
        return "not published" if share is None else percent(share)


@router.get("")
def redline_page(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    against: Annotated[int | None, Query(ge=1, le=1_000_000)] = None,
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = compared_revisions(
        tx, agency_id=person.agency_id, number=number, against=against, now=now
    )
    opened = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    desk = desk_of(opened, judged(opened).findings, person)
    return render(request, "policy/redline.html", _page(found, base_of(person, number), desk))


def _page(found: AskedComparison, base: str, desk: Desk) -> RedlinePage:
    told = found.compared.effects if found.compared else ()
    drawn = tuple(DrawnEffect(one, picture(one), in_words_of(one)) for one in told)
    return RedlinePage(base, found.revision, found.others, found.compared, drawn, desk)
