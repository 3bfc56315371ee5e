"""The tide wall, and the job list that a part of it makes."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.clearances import Clearance
from app.domain.known_devices import DeviceStatus
from app.domain.natural_order import natural
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.stretches import Stretch
from app.domain.tide_cells import Cell, total
from app.domain.tide_marks import MARK, NEVER, WIDTH, Afloat, Scale, afloat
from app.domain.tide_wall import LABEL, LANE, SLOTS, Beginning, StationRow, TideWall, tide_wall
from app.lookups import fleet
from app.lookups.clearances import clearances_of
from app.lookups.fleet import MOST_LISTED
from app.lookups.reaudits import ReauditDue, reaudit_due
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
_LAST_PAGE = 10_000


@dataclass(frozen=True)
class Measures:
    """Of the drawing, in its own units."""

    mark: float = MARK
    lane: float = LANE
    label: float = LABEL
    width: float = WIDTH
    never: float = NEVER
    right: float = NEVER + SLOTS * MARK
    head: float = 52.0  # room above the rows for the axis and the revisions
    cell: float = 84.0


@dataclass(frozen=True)
class Total:
    """How many devices are so; `query` leads to them."""

    words: str
    devices: int
    query: str


@dataclass(frozen=True)
class Piece:
    """A stretch of the axis: choosing it makes the job list."""

    label: str
    words: str
    x: float
    query: str


@dataclass(frozen=True)
class WallPage:
    """`listed` is one page of the `matching` devices; `gaps` and `clearances` are by tag."""

    wall: TideWall
    totals: list[Total]
    stretch: Stretch
    listed: list[Afloat]
    matching: int
    page: int
    gaps: dict[str, str]
    clearances: Mapping[str, Clearance]
    may_add: bool
    may_read: bool
    may_upload: bool
    may_reaudit: bool
    stations: list[str]
    reaudit_due: ReauditDue | None = None
    draw: Measures = field(default_factory=Measures)
    statuses: tuple[DeviceStatus, ...] = tuple(DeviceStatus)

    @property
    def first(self) -> int:
        return (self.page - 1) * MOST_LISTED + 1

    @property
    def pages(self) -> int:
        return max(-(-self.matching // MOST_LISTED), 1)

    @property
    def stretches(self) -> list[Piece]:
        """Between the ticks, and what was never read."""
        at, ticks = {"station": self.stretch.station}, self.wall.ticks
        found = []
        for tick, after in zip(ticks, [*ticks[1:], None], strict=True):
            end = None if after is None else after.days - 1
            label = f"{tick.days}+" if end is None else f"{tick.days} to {end} d"
            x = tick.x + 18 if after is None else (tick.x + after.x) / 2
            days = {"start": tick.days, "end": _OLDEST if end is None else end}
            found.append(Piece(label, f"read {label} ago", x, f"?{urlencode(at | days)}"))
        never = f"?{urlencode(at | {'never': 1})}"
        return [*found, Piece("never read", "never read", NEVER + 1.5 * MARK, never)]

    def at_page(self, page: int) -> str:
        return _query(self.stretch, page=page)

    def of_station(self, row: StationRow) -> str:
        return _query(self.stretch, station="" if row.everywhere else row.station)

    def of_cell(self, row: StationRow, cell: Cell) -> str:
        station = self.stretch.station if row.everywhere else row.station
        if cell.start is None:
            return f"?{urlencode({'station': station, 'never': 1})}"
        end = _OLDEST if cell.end is None else cell.end
        return f"?{urlencode({'station': station, 'start': cell.start, 'end': end})}"


_OLDEST = 99_999  # days; so that those never read are not among them


class Asked(BaseModel):
    """What no stretch can be narrows nothing: the list says what it holds."""

    station: str = ""
    start: str = ""
    end: str = ""
    status: str = ""
    overdue: str = ""
    never: str = ""
    page: int = Field(1, ge=1, le=_LAST_PAGE)

    @property
    def stretch(self) -> Stretch:
        status = next((one for one in DeviceStatus if one.value == self.status), None)
        start, end = _days(self.start), _days(self.end)
        return Stretch(self.station, start, end, status, bool(self.overdue), bool(self.never))


@router.get("/{agency}/fleet")
def wall(
    request: Request, person: Member, tx: Reading, now: Now, asked: Annotated[Asked, Query()]
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    first = (asked.page - 1) * MOST_LISTED
    found = fleet.wall(tx, agency_id=person.agency_id, now=now, stretch=asked.stretch, first=first)
    marks = [one.mark for one in found.devices]
    cleared = clearances_of(tx, agency_id=person.agency_id, marks=marks, now=now)
    page = _page(found, asked.stretch, person, asked.page, cleared)
    if page.may_reaudit:
        due = reaudit_due(tx, agency_id=person.agency_id, now=now)
        page = replace(page, reaudit_due=due)
    return render(request, "fleet/wall.html", page)


def _page(
    found: fleet.Wall,
    stretch: Stretch,
    person: Person,
    page: int,
    cleared: Mapping[str, Clearance],
) -> WallPage:
    scale = Scale(found.check_interval, found.now)
    return WallPage(
        wall=tide_wall(
            [one for one in found.counts if stretch.station in ("", one.station)],
            found.drawn,
            [Beginning(start.number, start.at) for start in found.starts],
            check_interval=found.check_interval,
            now=found.now,
        ),
        stations=sorted({one.station for one in found.counts}, key=natural),
        totals=_totals(found, stretch.station),
        stretch=stretch,
        listed=[afloat(one.mark, one.status, scale) for one in found.devices],
        matching=found.matching,
        page=page,
        gaps={
            one.mark.device.tag: one.gap.words(found.now)
            for one in found.devices
            if one.gap is not None
        },
        clearances=cleared,
        may_add=may(person, Deed.KEEP_REGISTER),
        may_read=may(person, Deed.READ_DEVICE),
        may_upload=may(person, Deed.UPLOAD_READINGS),
        may_reaudit=may(person, Deed.REAUDIT),
    )


def _totals(found: fleet.Wall, station: str) -> list[Total]:
    """What needs somebody first."""
    here = [one for one in found.counts if station in ("", one.station)]
    at = Stretch(station)
    by_status = [
        Total(words, total(here, status=one), _query(at, status=one.value))
        for one, words in _IN_ORDER
    ]
    under = Total("under water", total(here, overdue=True), _query(at, overdue="1"))
    return [*by_status, under]


_IN_ORDER = (
    (DeviceStatus.UNSAFE, "unsafe"),
    (DeviceStatus.DIFFERS, "differ"),
    (DeviceStatus.NOT_JUDGED, "not judged"),
    (DeviceStatus.HOLDS, "hold"),
)


def _query(stretch: Stretch, **instead: str | int) -> str:
    told: Mapping[str, str | int | None] = {
        "station": stretch.station,
        "start": stretch.start,
        "end": stretch.end,
        "status": None if stretch.status is None else stretch.status.value,
        "overdue": 1 if stretch.overdue else None,
        "never": 1 if stretch.never else None,
        **instead,
    }
    return "?" + urlencode({name: value for name, value in told.items() if value not in (None, "")})


def _days(text: str) -> int | None:
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None
