"""The figures of the fleet audit; each names what it was counted from, and leads there."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.known_devices import DeviceStatus
from app.domain.permissions import Deed, check_may
from app.lookups.astray import AlarmAstray
from app.lookups.measures import MeasuresPage, measures
from app.lookups.readings import ReadingQuality, reading_quality
from app.web.compared import label_of
from app.web.render import render
from app.web.run_charts import DrawnChart, drawn_chart
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
PERIODS = (30, 90, 365)
_HOUR = 3600


def duration_words(lasted: timedelta | None) -> str:
    """`under 1 h`, `5 h`, `3 d`; what is not known yet says so."""
    if lasted is None:
        return "not yet known"
    hours = lasted.total_seconds() / _HOUR
    if hours < 1:
        return "under 1 h"
    return f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} d"


@dataclass(frozen=True)
class MeasuresShown:
    found: MeasuresPage
    days: int
    quality: ReadingQuality
    worst: list[tuple[str, AlarmAstray]]
    charts: list[DrawnChart]
    periods: tuple[int, ...] = PERIODS
    lasted: Callable[[timedelta | None], str] = duration_words

    @property
    def not_judged(self) -> int:
        return self.found.statuses[DeviceStatus.NOT_JUDGED]


@router.get("/{agency}/fleet/measures")
def measures_page(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    days: Annotated[int, Query(ge=1, le=3660)] = 90,
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    since = now - timedelta(days=days)
    found = measures(tx, agency_id=person.agency_id, now=now, since=since)
    page = MeasuresShown(
        found,
        days,
        reading_quality(tx, agency_id=person.agency_id, since=since),
        [(label_of(one.alarm), one) for one in found.worst],
        [
            drawn_chart("Devices read in the month that held the policy", found.months_holding),
            drawn_chart("Devices read in the month that were unsafe", found.months_unsafe),
        ],
    )
    return render(request, "fleet/measures.html", page)
