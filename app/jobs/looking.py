"""Looking at a long file: what it would change is found out here, and kept beside the file."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from app.actions.long_work import Begun, finish_work, held_with, hold_work
from app.actions.report_files import keep_preview, read_file
from app.domain.people import Person
from app.jobs.giving_way import giving_way
from app.lookups.report_files import FilePreview, preview_file, preview_text


def look_at_file(database: Any, begun: Begun, clock: Callable[[], datetime]) -> None:
    by, found, text = giving_way(lambda: _looked(database, begun, clock()))
    with database.writing() as tx:
        hold_work(tx, begun)
        keep_preview(tx, fingerprint=found.fingerprint, preview=text, by=by, now=clock())
        finish_work(tx, begun, outcome=_outcome(found), now=clock())


def _looked(database: Any, begun: Begun, now: datetime) -> tuple[Person, FilePreview, str]:
    with database.reading() as tx:
        by, content = held_with(tx, begun, now=now)
        read = read_file(tx, content=content, by=by, now=now)
    found = preview_file(read, name=begun.about["name"])
    return by, found, preview_text(found)


def _outcome(found: FilePreview) -> dict[str, int]:
    return {
        "devices": found.devices,
        "reports": found.reports,
        "readings": found.readings,
        "refused": found.refused,
    }
