"""How a revision reaches the devices: the curve, the jobs, and work orders to print."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.changeover_jobs import DeviceJobs, Job
from app.domain.comparison import base_alarm
from app.domain.errors import NotFound
from app.domain.natural_order import natural
from app.domain.option_judgement import ANY_PRESET
from app.domain.options import OPTIONS
from app.domain.permissions import Deed, check_may, may
from app.domain.rendered_lines import PresetLines, RenderedLine, preset_lines
from app.domain.triggers import Trigger
from app.domain.waivers import Waiver
from app.exchange.option_words import option_words
from app.lookups.changeover_changes import KnownJob, changes_of, reader_names
from app.lookups.changeover_jobs import Changeover, changeover
from app.web.changeover_charts import DrawnCurve, drawn_curve
from app.web.compared import label_of, side_by_side
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
MOST_DEVICES, MOST_ORDERS = 100, 60
OPTIONS_NAME = "options"


class Asked(BaseModel):
    revision: int | None = Field(None, ge=1, le=2**31)
    station: str = ""
    device: str = ""
    page: int = Field(1, ge=1, le=10_000)


@dataclass(frozen=True)
class Change:
    """One alarm of a preset that is known to hold something else."""

    alarm: str
    held: str
    to_set: str
    waived: tuple[Waiver, ...] = ()

    @property
    def label(self) -> str:
        return label_of(self.alarm)


@dataclass(frozen=True)
class JobShown:
    """`options`: of the job of a device's options every one that the policy states, as signed."""

    job: Job
    reader: str
    changes: tuple[Change, ...]
    options: tuple[Change, ...] = ()

    @property
    def name(self) -> str:
        return OPTIONS_NAME if self.options else self.job.preset

    @property
    def rest(self) -> list[Change]:
        """Options that are not known to differ."""
        changed = {one.alarm for one in self.changes}
        return [one for one in self.options if one.alarm not in changed]

    def held(self, alarm: str) -> str:
        """Empty: nothing else than what is to be set; a deep line belongs to its alarm."""
        told = [one for one in self.changes if base_alarm(one.alarm) == alarm]
        return "; ".join(f"deep line {o.held}" if o.alarm != alarm else o.held for o in told)


@dataclass(frozen=True)
class DeviceShown:
    """`missed`: the changeover is over and this device is not verified."""

    told: DeviceJobs
    jobs: tuple[JobShown, ...]
    missed: bool

    @property
    def left(self) -> list[JobShown]:
        return [one for one in self.jobs if not one.job.state.done]

    @property
    def done(self) -> list[JobShown]:
        return [one for one in self.jobs if one.job.state.done]


@dataclass(frozen=True)
class Group:
    station: str
    model: str
    devices: tuple[DeviceShown, ...]


@dataclass(frozen=True)
class ChangeoverPage:
    """`groups` are one page of the devices with something left to do; `to_do` is all of those."""

    found: Changeover
    asked: Asked
    groups: tuple[Group, ...]
    to_do: int
    stations: tuple[str, ...]
    models: dict[str, tuple[PresetLines, ...]]
    curve: DrawnCurve | None
    may_read: bool
    most_orders: int = MOST_ORDERS
    trigger: str = Trigger.REVISION.value

    @property
    def verified(self) -> int:
        return sum(one.done and not one.nothing_to_do for one in self.found.devices)

    @property
    def nothing_to_do(self) -> int:
        return sum(one.nothing_to_do for one in self.found.devices)

    @property
    def unknown(self) -> list[str]:
        """Models for which the revision has no presets."""
        return sorted({one.device.model for one in self.found.devices if not one.jobs})

    @property
    def pages(self) -> int:
        return max(-(-self.to_do // MOST_DEVICES), 1)


@router.get("/{agency}/fleet/changeover")
def changeover_page(
    request: Request, person: Member, tx: Reading, now: Now, asked: Annotated[Asked, Query()]
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = changeover(tx, agency_id=person.agency_id, now=now, number=asked.revision)
    left = _left(found, asked)
    first = (asked.page - 1) * MOST_DEVICES
    shown = left[first : first + MOST_DEVICES]
    page = ChangeoverPage(
        found,
        asked,
        _groups(tx, found, shown),
        len(left),
        tuple(sorted({one.device.station for one in found.devices}, key=natural)),
        _to_set(found, shown),
        None if found.ahead or not found.curve.devices else drawn_curve(found.curve),
        may(person, Deed.READ_DEVICE),
    )
    return render(request, "fleet/changeover.html", page)


@dataclass(frozen=True)
class OrdersPage:
    """One sheet a device; `left_out`: more than are printed at once."""

    found: Changeover
    devices: tuple[DeviceShown, ...]
    models: dict[str, tuple[PresetLines, ...]]
    left_out: int

    def lines(self, device: DeviceShown, job: JobShown) -> PresetLines:
        told = self.models[device.told.device.model]
        return next(one for one in told if one.preset == job.job.preset)

    def to_set(self, device: DeviceShown, job: JobShown) -> list[RenderedLine]:
        """What is known to differ; all of it where nobody knows what it holds."""
        lines = self.lines(device, job).lines
        return [line for line in lines if job.job.read_at is None or job.held(line.alarm.key)]


@router.get("/{agency}/fleet/changeover/orders")
def orders(
    request: Request, person: Member, tx: Reading, now: Now, asked: Annotated[Asked, Query()]
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = changeover(tx, agency_id=person.agency_id, now=now, number=asked.revision)
    left = _left(found, asked)
    if not left:
        raise NotFound("There is no device with anything left to do.")
    some = left[:MOST_ORDERS]
    shown = tuple(one for group in _groups(tx, found, some) for one in group.devices)
    page = OrdersPage(found, shown, _to_set(found, some), len(left) - len(some))
    return render(request, "fleet/orders.html", page)


def _left(found: Changeover, asked: Asked) -> list[DeviceJobs]:
    return [
        one
        for one in found.devices
        if one.jobs
        and not one.done
        and asked.station in ("", one.device.station)
        and asked.device in ("", one.device.tag)
    ]


def _groups(tx: Any, found: Changeover, some: Iterable[DeviceJobs]) -> tuple[Group, ...]:
    """By station and model; in each what needs somebody first, as they come."""
    told = sorted(some, key=lambda one: (natural(one.device.station), one.device.model))
    readers = reader_names(tx, [job for one in told for job in one.jobs])
    return tuple(
        Group(*place, tuple(_shown(found, one, readers) for one in here))
        for place, here in groupby(told, key=_place)
    )


def _place(one: DeviceJobs) -> tuple[str, str]:
    return one.device.station, one.device.model


def _shown(found: Changeover, told: DeviceJobs, readers: dict[int, str]) -> DeviceShown:
    known = {one.job.preset: one for one in changes_of(found, told)}
    signed = _options(found)
    return DeviceShown(
        told,
        tuple(
            _job_shown(found, job, known.get(job.preset), readers.get(job.report or 0, ""), signed)
            for job in told.jobs
        ),
        missed=found.overdue and not told.done,
    )


def _job_shown(
    found: Changeover, job: Job, known: KnownJob | None, reader: str, signed: tuple[Change, ...]
) -> JobShown:
    changes = _changes(found, known)
    if job.preset != ANY_PRESET:
        return JobShown(job, reader, changes)
    return JobShown(job, reader, changes if job.read_at else signed, signed)


def _options(found: Changeover) -> tuple[Change, ...]:
    """All that the policy states, of a device of which nobody knows what it holds."""
    stated = {} if found.profile is None else found.profile.options
    return tuple(
        Change(key, "not known", option_words(key, stated[key])) for key in OPTIONS if key in stated
    )


def _changes(found: Changeover, known: KnownJob | None) -> tuple[Change, ...]:
    if known is None:
        return ()
    rendered = known.rendered
    categories = set() if rendered is None else {rendered.carries, *rendered.serves}
    return tuple(
        Change(line.alarm, held, to_set, found.standing.waived(categories, base_alarm(line.alarm)))
        for line in known.lines
        for to_set, held in [side_by_side(rendered, line)]
    )


def _to_set(found: Changeover, some: Iterable[DeviceJobs]) -> dict[str, tuple[PresetLines, ...]]:
    profile = found.profile
    models = sorted({one.device.model for one in some})
    return {} if profile is None else {model: preset_lines(profile, model) for model in models}
