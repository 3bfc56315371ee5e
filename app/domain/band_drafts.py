"""Advised bands taken into a policy's document, band by band, where an author confirms them.

Categories are cut at the edges of a confirmed band, each part begins with what the whole one says,
and the limits of the vital sign are put in. Whatever a limit replaces loses its reason and source:
they were given for another number, and only the author can give new ones.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import AlarmCondition, limits_of
from app.domain.band_advice import Band
from app.domain.category_edits import Split, with_split
from app.domain.documents import Document, setting_in, with_setting
from app.domain.settings_of_alarms import as_number
from app.domain.vital_signs import VitalSign


@dataclass(frozen=True)
class BandCut:
    """A category that a band's edge divides, and the new one from there on."""

    category: str
    at: Age


def with_bands(document: Document, vital: VitalSign, bands: Iterable[Band]) -> Document:
    confirmed = list(bands)
    for edge in _edges(confirmed):
        document = _cut(document, edge)
    for band in confirmed:
        for key, span in _spans(document):
            if span.meet(band.ages) is not None:
                document = _with_limits(document, key, vital, band)
    return document


def cuts(document: Document, bands: Iterable[Band]) -> tuple[BandCut, ...]:
    """What taking these bands would divide, in order of age."""
    return tuple(
        BandCut(key, edge)
        for edge in _edges(bands)
        for key, span in _spans(document)
        if _inside(edge, span)
    )


def _edges(bands: Iterable[Band]) -> list[Age]:
    return sorted({edge for band in bands for edge in (band.ages.start, band.ages.stop)})


def _spans(document: Document) -> Iterator[tuple[str, AgeSpan]]:
    for held in document["categories"]:
        end = None if held["to"] is None else Age.parse(held["to"])
        yield held["key"], AgeSpan(Age.parse(held["from"]), end)


def _inside(edge: Age, span: AgeSpan) -> bool:
    return span.start < edge < span.stop


def _cut(document: Document, edge: Age) -> Document:
    for held, (key, span) in zip(document["categories"], _spans(document), strict=True):
        if _inside(edge, span):
            older = Split(
                str(edge),
                _free_key(document, f"{key[:40].rstrip('-')}-from-{str(edge).replace(' ', '-')}"),
                f"{held['label'][:100]} from {edge}",
                copied=True,
            )
            return with_split(document, key, older)
    return document


def _free_key(document: Document, wanted: str) -> str:
    taken = {held["key"] for held in document["categories"]}
    names = (wanted if not again else f"{wanted}-{again + 1}" for again in range(len(taken) + 1))
    return next(name for name in names if name not in taken)


def _with_limits(document: Document, category: str, vital: VitalSign, band: Band) -> Document:
    for alarm, limit in zip(limits_of(vital.key), (band.low, band.high), strict=True):
        if limit is None:
            continue
        held = setting_in(document, category, alarm.key) or {}
        if not _says(held, as_number(limit), alarm):
            document = with_setting(
                document, category, alarm.key, _moved(held, as_number(limit), alarm)
            )
    return document


def _says(held: Mapping[str, Any], limit: float, alarm: AlarmCondition) -> bool:
    if held.get("state") != "on" or held.get("unit") not in (None, alarm.unit):
        return False
    return held.get("limit") == limit


def _moved(held: Mapping[str, Any], limit: float, alarm: AlarmCondition) -> dict[str, Any]:
    """Priority, delay and latching of an alarm that is on stay as they are; deep line and latitude
    too, unless they were written in another unit."""
    if held.get("state") != "on":
        return {"state": "on", "limit": limit}
    dropped = {"limit", "unit", "reason", "source"}
    if held.get("unit") not in (None, alarm.unit):
        dropped |= {"deep", "latitude"}
    return {**{part: value for part, value in held.items() if part not in dropped}, "limit": limit}
