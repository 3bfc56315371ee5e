"""The tide wall, and adding a device to it."""

from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.devices import add_device
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.tide_marks import MARK, NEVER, WIDTH, Afloat
from app.domain.tide_wall import CELLS, LABEL, LANE, SLOTS, Beginning, TideWall, tide_wall
from app.exchange.stored_profiles import stored_profile
from app.lookups import fleet
from app.lookups.revisions import in_force
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]
MOST_ROWS = 500


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
    cell: float = WIDTH / CELLS


@dataclass(frozen=True)
class Stretch:
    """A piece of the wall that makes a job list; days as typed, None where nothing is."""

    station: str = ""
    start: int | None = None
    end: int | None = None

    @property
    def chosen(self) -> bool:
        return bool(self.station) or self.start is not None or self.end is not None


@dataclass(frozen=True)
class WallPage:
    """`listed` is at most `MOST_ROWS` of the `matching` devices; `gaps`: words by tag."""

    wall: TideWall
    stations: list[str]
    stretch: Stretch
    listed: list[Afloat]
    matching: int
    gaps: dict[str, str]
    may_add: bool
    may_read: bool
    may_upload: bool
    draw: Measures = field(default_factory=Measures)


@dataclass(frozen=True)
class AddDevicePage:
    models: list[str]
    stations: list[str]
    typed: dict[str, str] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()


@router.get("/{agency}/fleet")
def wall(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    station: str = "",
    start: str = "",
    end: str = "",
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = fleet.wall(tx, agency_id=person.agency_id, now=now)
    stretch = Stretch(station, _days(start), _days(end))
    return render(request, "fleet/wall.html", _page(found, stretch, person))


def _page(found: fleet.Wall, stretch: Stretch, person: Person) -> WallPage:
    stations = sorted({one.mark.device.station for one in found.devices})
    drawn = tide_wall(
        [
            (one.mark, one.status)
            for one in found.devices
            if stretch.station in ("", one.mark.device.station)
        ],
        [Beginning(start.number, start.at) for start in found.starts],
        check_interval=found.check_interval,
        now=found.now,
    )
    listed = drawn.within(stretch.start or 0, stretch.end)
    if stretch.start is None and stretch.end is None:
        listed = drawn.marks
    return WallPage(
        wall=drawn,
        stations=stations,
        stretch=stretch,
        listed=listed[:MOST_ROWS],
        matching=len(listed),
        gaps={
            one.mark.device.tag: one.gap.words(found.now)
            for one in found.devices
            if one.gap is not None
        },
        may_add=may(person, Deed.ADD_DEVICE),
        may_read=may(person, Deed.READ_DEVICE),
        may_upload=may(person, Deed.UPLOAD_READINGS),
    )


def _days(text: str) -> int | None:
    """What is no number of days narrows nothing: the list says what it holds."""
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None


@router.get("/{agency}/fleet/add")
def add_page(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.ADD_DEVICE)
    return render(request, "fleet/add.html", _add_page(tx, person, now))


@router.post("/{agency}/fleet/add")
def add(
    request: Request,
    person: Member,
    now: Now,
    tag: Text = "",
    model: Text = "",
    station: Text = "",
) -> Response:
    typed = {"tag": tag.strip(), "model": model, "station": station}
    database = request.app.state.database
    try:
        with database.writing() as tx:
            device = add_device(tx, **typed, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _add_page(tx, person, now, typed, refused.faults)
        return render(request, "fleet/add.html", page, status=422)
    return RedirectResponse(f"/{person.agency}/devices/{device.tag}", status_code=303)


def _add_page(
    tx: Any,
    person: Person,
    now: Any,
    typed: dict[str, str] | None = None,
    faults: tuple[Fault, ...] = (),
) -> AddDevicePage:
    """Models and stations that are known are offered; others can be written."""
    revision = in_force(tx, agency_id=person.agency_id, at=now)
    known = fleet.wall(tx, agency_id=person.agency_id, now=now).devices
    models = {one.mark.device.model for one in known}
    if revision is not None:
        models |= set(stored_profile(revision.document).models)
    stations = {one.mark.device.station for one in known}
    return AddDevicePage(sorted(models), sorted(stations), typed or {}, faults)
