"""An invented fleet in a database file: one row a device, every value that it is known to hold."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import insert
from sqlmodel import select

from app.domain.fleet import Column
from app.domain.reading_block import Codes
from app.storage.database import Database
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices import DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.layouts import layout_for
from app.storage.migrating import open_database
from app.storage.revisions import RevisionRow
from tests.bench.taking_in import wide_document
from tests.builders import NOW, a_person, a_signed_revision

STATIONS = 40
_A_TIME = 10_000
_UNREAD = 50  # one device more in so many, never read
_Rows = tuple[list[dict[str, Any]], list[dict[str, Any]]]
"""Devices, and what is known of them."""


def fleet_database(path: Path, *, layout: list[Column], vals: Codes, model: str) -> Database:
    """`vals`: a row a device, in the order of their tags. They were read at noon of some day of
    the last 150."""
    database = open_database(f"sqlite:///{path}", now=NOW)
    with database.writing() as tx:
        a_signed_revision(tx, document=wide_document(), now=NOW - timedelta(days=200))
        agency = a_person(tx).agency_id
        fixed = {
            "model": model,
            "layout_id": layout_for(tx, agency_id=agency, columns=layout),
            "revision_id": tx.exec(select(RevisionRow.id)).one(),
        }
        device = {"agency_id": agency, "model": model, "created_at": NOW}
        for devices, known in _rows(vals, layout):
            tx.execute(insert(DeviceRow), [row | device for row in devices])
            told = {row["device_id"]: row.pop("presets") for row in known}
            tx.execute(insert(DeviceNowRow), [row | fixed for row in known])
            rows = [{"device_id": number, "presets": text} for number, text in told.items()]
            tx.execute(insert(DevicePresetsRow), rows)
        unread = [{"tag": f"new-{n}", "station": _station(n)} for n in range(len(vals) // _UNREAD)]
        if unread:
            tx.execute(insert(DeviceRow), [row | device for row in unread])
    return database


def _station(n: int) -> str:
    return f"Station {n % STATIONS + 1}"


def _rows(vals: Codes, layout: list[Column]) -> Iterator[_Rows]:
    dice = np.random.default_rng(20261125)
    days = dice.integers(0, 150, len(vals)).tolist()
    worst = dice.choice(np.array([None, "off-protocol", "unsafe"]), len(vals), p=(0.9, 0.08, 0.02))
    presets = list(dict.fromkeys(preset for preset, _ in layout))
    for first in range(0, len(vals), _A_TIME):
        some = range(first, min(first + _A_TIME, len(vals)))
        yield (
            [{"id": n + 1, "tag": f"kit-{n:06}", "station": _station(n)} for n in some],
            [
                {
                    "device_id": n + 1,
                    "vals": vals[n].tobytes(),
                    **_known(n, NOW - timedelta(days=days[n]), presets, worst[n]),
                }
                for n in some
            ],
        )


def _known(n: int, read_at: datetime, presets: list[str], worst: str | None) -> dict[str, Any]:
    tally = {"looser": int(worst is not None), "tighter": 0, "other": 0, "missing": 0}
    state = {"report": n, "read_at": read_at.isoformat(), "tally": tally | {"worst": worst}}
    return {
        **tally,
        "extras": "{}",
        "presets": json.dumps({preset: {"power-on": state} for preset in presets}),
        "presets_read": len(presets),
        "presets_offered": len(presets),
        "worst": worst,
        "oldest_read_at": read_at,
        "latest_read_at": read_at,
    }
