"""One ZIP that shows an inspector what was signed, what was found and what was done about it."""

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import IO

from app.domain.ledger import Entry
from app.domain.revisions import StoredRevision

HOW_TO_CHECK = """How to check this file
======================

manifest.json names every other file with its SHA-256.

The ledger: one JSON object a line with seq, body, prev and hash. Each hash is the SHA-256 of the
hash before it and of its own body, so that nothing can be altered, left out or put in between.
With Python, which needs nothing else for it:

    import hashlib, json
    last = "0" * 64
    for line in open("ledger.ndjson", encoding="utf-8"):
        entry = json.loads(line)
        assert entry["prev"] == last, entry["seq"]
        last = hashlib.sha256((last + "\\n" + entry["body"]).encode()).hexdigest()
        assert entry["hash"] == last, entry["seq"]
    print(last)

What it prints is the head told on the report. Making this file is the next entry, which is
therefore not in it. The fingerprint of a revision is the SHA-256 of profiles/revision-N.json
exactly as it lies here.

readings.csv has the columns in which readings are taken in. A cell that begins like a formula has
an apostrophe in front of it.

All of it is one agency's own alarm-limit policy and the record of its devices. It is no advice for
a patient. Local protocol and licensed judgement rule. It holds no data of any patient.
"""


@dataclass(frozen=True)
class Contents:
    """Files by their name in the ZIP; the revisions' documents lie in it exactly as signed. What
    grows with the fleet comes in pieces."""

    report: bytes
    tables: bytes
    readings: Iterable[bytes]
    findings: bytes
    revisions: tuple[StoredRevision, ...]
    papers: Mapping[int, bytes]
    ledger: tuple[Entry, ...]


def write_inspection(target: IO[bytes], contents: Contents, *, at: datetime) -> str:
    """The SHA-256 of the manifest. The same contents at the same time are the same bytes."""
    stamp = at.timetuple()[:6]
    hashes: dict[str, str] = {}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, pieces in _files(contents):
            hashes[name] = _pack(packed, _entry(name, stamp), pieces)
        text = json.dumps({"made_at": at.isoformat(), "sha256": hashes}, indent=1).encode()
        packed.writestr(_entry("manifest.json", stamp), text)
    return hashlib.sha256(text).hexdigest()


def _pack(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, pieces: Iterable[bytes]) -> str:
    """Its SHA-256."""
    whole = hashlib.sha256()
    with packed.open(entry, "w") as place:
        for piece in pieces:
            whole.update(piece)
            place.write(piece)
    return whole.hexdigest()


def _entry(name: str, stamp: tuple[int, ...]) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, (stamp[0], stamp[1], stamp[2], stamp[3], stamp[4], stamp[5]))
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry


def _files(contents: Contents) -> Iterator[tuple[str, Iterable[bytes]]]:
    yield "HOW-TO-CHECK.txt", [HOW_TO_CHECK.encode()]
    yield "report.pdf", [contents.report]
    yield "tables.xlsx", [contents.tables]
    yield "readings.csv", contents.readings
    yield "findings.csv", [contents.findings]
    yield "ledger.ndjson", (_line(entry).encode() for entry in contents.ledger)
    for revision in contents.revisions:
        yield f"profiles/revision-{revision.number}.json", [revision.document.encode()]
    for number, paper in sorted(contents.papers.items()):
        yield f"papers/revision-{number}.pdf", [paper]


def _line(entry: Entry) -> str:
    told = {"seq": entry.seq, "body": entry.body, "prev": entry.prev, "hash": entry.hash}
    return json.dumps(told, ensure_ascii=False) + "\n"
