"""Which columns and words of another system's file stand for ours: told once, then remembered."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any
from zoneinfo import available_timezones

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from app.actions.column_maps import drop_column_map, save_column_map
from app.actions.long_work import ask_to_look_again, is_long
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.column_maps import ColumnMap, TimeFormat
from app.domain.device_reports import StateRead
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.settings_of_alarms import Priority
from app.exchange.reports_csv import OPTIONAL, REQUIRED
from app.lookups.agencies import agency
from app.lookups.column_maps import ForeignFile, foreign_file, map_of, maps_of
from app.lookups.report_files import held_file
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Writing

router = APIRouter()
HERE = "/{agency}/fleet/readings/columns"
_A_VEHICLE_AS_WELL = "unit"
_MUST_BE_OURS = ("state_read", "alarm", "reading")
_MEANING = {
    "device": "Tag of the device",
    "read_at": "When it was read",
    "state_read": "State in which it was read",
    "preset": "Preset",
    "alarm": "Alarm",
    "reading": "What was found",
    "unit": "Unit of the limit",
    "priority": "Priority",
    "delay_s": "Delay in seconds",
    "latching": "Latching",
    "model": "Device model",
    "reader": "Who read it",
    "software": "Software version",
    "trigger": "Why it was read",
    "minutes_off": "Minutes without power",
    "device_clock": "What its clock showed",
}
OURS = {
    "state_read": tuple(StateRead),
    "alarm": tuple(ALARM_CONDITIONS),
    "reading": ("on", "off", "not-fitted"),
    "priority": tuple(Priority),
}


@dataclass(frozen=True)
class MapPage:
    """`stored`: a map is changed without a file at hand."""

    file: ForeignFile
    by: ColumnMap
    stored: bool
    faults: tuple[Fault, ...] = ()
    required: tuple[str, ...] = REQUIRED
    optional: tuple[str, ...] = OPTIONAL
    times: tuple[TimeFormat, ...] = tuple(TimeFormat)

    @property
    def ours(self) -> Mapping[str, tuple[str, ...]]:
        return OURS

    def meaning(self, name: str) -> str:
        return _MEANING[name]

    @property
    def more_chosen(self) -> bool:
        wrong = {fault.column for fault in self.faults}
        return bool({*self.by.columns, *self.by.always, *wrong} & {*OPTIONAL})

    @property
    def alarms(self) -> list[str]:
        return list(ALARM_CONDITIONS)

    @property
    def zones(self) -> list[str]:
        return sorted(available_timezones())


@dataclass(frozen=True)
class MapsPage:
    maps: list[ColumnMap]


async def _typed(request: Request) -> dict[str, str]:
    return {name: str(value) for name, value in (await request.form()).items()}


Typed = Annotated[dict[str, str], Depends(_typed)]


@router.get(HERE)
def columns_page(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    """Of the file that is held for this person."""
    check_may(person, Deed.UPLOAD_READINGS)
    file = _held(tx, person, now)
    zone = agency(tx, key=person.agency).time_zone
    by = file.known or _guessed(file.header, zone)
    return render(request, "fleet/columns.html", MapPage(file, by, stored=False))


@router.post(HERE)
def save_columns(request: Request, person: Member, now: Now, typed: Typed) -> Response:
    check_may(person, Deed.UPLOAD_READINGS)
    database = request.app.state.database
    with database.reading() as tx:
        file = _held(tx, person, now)
    refused = _save(request, person, now, file, typed, stored=False)
    if refused is not None:
        return refused
    with database.reading() as tx:
        file = _held(tx, person, now)
        long = is_long(held_file(tx, of=person, now=now).content)
    if any(not ours for name in _MUST_BE_OURS for ours in file.words.get(name, {}).values()):
        told = "Remembered. Now say what the words of the file mean."
        return done(f"/{person.agency}/fleet/readings/columns", told)
    told = "Remembered for the next file like this."
    if not long:
        return done(f"/{person.agency}/fleet/readings/look", told)
    with database.writing() as tx:
        number = ask_to_look_again(tx, by=person, now=now)
    return done(f"/{person.agency}/work/{number}", told)


def _held(tx: Any, person: Person, now: Any) -> ForeignFile:
    content = held_file(tx, of=person, now=now).content
    return foreign_file(content, maps_of(tx, agency_id=person.agency_id))


def _save(
    request: Request,
    person: Person,
    now: Any,
    file: ForeignFile,
    typed: Mapping[str, str],
    *,
    stored: bool,
) -> Response | None:
    """The form again where it was refused."""
    by = map_typed(file.header, typed)
    try:
        with request.app.state.database.writing() as tx:
            save_column_map(tx, by, by=person, now=now)
    except Refused as refused:
        page = MapPage(file, by, stored, refused.faults)
        return render(request, "fleet/columns.html", page, status=422)
    return None


def map_typed(header: tuple[str, ...], typed: Mapping[str, str]) -> ColumnMap:
    def of(prefix: str) -> dict[str, str]:
        return {
            name.removeprefix(prefix): value.strip()
            for name, value in typed.items()
            if name.startswith(prefix) and value.strip()
        }

    words: dict[str, dict[str, str]] = {}
    for place, ours in of("word-").items():
        theirs = typed.get(f"theirs-{place}", "")
        words.setdefault(place.rpartition("-")[0], {})[theirs.casefold()] = ours
    times = typed.get("times", "")
    return ColumnMap(
        source=typed.get("source", "").strip(),
        header=header,
        columns=of("column-"),
        always=of("always-"),
        words=words,
        alarms={
            header[int(place)]: alarm
            for place, alarm in of("alarm-").items()
            if place.isascii() and place.isdigit() and int(place) < len(header)
        },
        times=TimeFormat(times) if times in list(TimeFormat) else TimeFormat.ISO,
        zone=typed.get("zone", "").strip(),
    )


def _guessed(header: tuple[str, ...], zone: str) -> ColumnMap:
    """Columns that are named as ours but for capitals, spaces and hyphens."""
    plain = {name.strip().casefold().replace(" ", "_").replace("-", "_"): name for name in header}
    ours = [name for name in (*REQUIRED, *OPTIONAL) if name != _A_VEHICLE_AS_WELL]
    found = {name: plain[name] for name in ours if name in plain}
    alarms = {
        plain[key]: alarm for alarm in ALARM_CONDITIONS if (key := alarm.replace("-", "_")) in plain
    }
    return ColumnMap("", header, columns=found, alarms=alarms, zone=zone)


@router.get("/{agency}/fleet/maps")
def maps_page(request: Request, person: Member, tx: Reading) -> Response:
    check_may(person, Deed.UPLOAD_READINGS)
    return render(request, "fleet/maps.html", MapsPage(maps_of(tx, agency_id=person.agency_id)))


@router.get("/{agency}/fleet/maps/edit")
def stored_page(request: Request, person: Member, tx: Reading, source: str = "") -> Response:
    check_may(person, Deed.UPLOAD_READINGS)
    by = map_of(tx, agency_id=person.agency_id, source=source)
    return render(request, "fleet/columns.html", MapPage(_without_file(by), by, stored=True))


def _without_file(by: ColumnMap) -> ForeignFile:
    return ForeignFile(by.header, by, {name: dict(words) for name, words in by.words.items()})


@router.post("/{agency}/fleet/maps/edit")
def save_stored(request: Request, person: Member, now: Now, typed: Typed) -> Response:
    check_may(person, Deed.UPLOAD_READINGS)
    with request.app.state.database.reading() as tx:
        by = map_of(tx, agency_id=person.agency_id, source=typed.get("was", ""))
    refused = _save(request, person, now, _without_file(by), typed, stored=True)
    return refused or done(f"/{person.agency}/fleet/maps", "The column map was changed.")


@router.post("/{agency}/fleet/maps/forget")
def forget(
    person: Member, tx: Writing, now: Now, source: Annotated[str, Form(max_length=300)] = ""
) -> Response:
    drop_column_map(tx, source=source, by=person, now=now)
    return done(f"/{person.agency}/fleet/maps", f"Files of {source} are no longer understood.")
