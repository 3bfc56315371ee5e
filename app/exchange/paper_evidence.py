"""The annex to a revision's paper: what its limits cost in recorded trends."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.domain.comparison import DEEP
from app.domain.evidence import Evidence, LineEvidence, Measured, SilentBeyond
from app.domain.noise_readings import (
    alarm_of_line,
    asked_of,
    label_of_line,
    number_words,
)
from app.domain.papers import PolicyPaper
from app.exchange import paper_words as words
from app.exchange.paper_policy import grouped, signature_of, stamp_of
from app.exchange.typst_papers import Press

Data = dict[str, Any]
TEMPLATE = "evidence"
_SHORT = 16


@dataclass(frozen=True)
class PrintedAnswer:
    """One category's evidence, when it was made and by whom; not `current` where recordings,
    outer bounds or the other revision have changed since. `circumstance`: in which the limits
    stand, in words; empty for the plain ones."""

    category: str
    evidence: Evidence
    made_at: datetime
    made_by: str
    current: bool = True
    circumstance: str = ""


def evidence_pdf(press: Press, paper: PolicyPaper, answers: Sequence[PrintedAnswer]) -> bytes:
    return press.set_paper(TEMPLATE, evidence_data(paper, answers), at=paper.printed_at)


def evidence_data(paper: PolicyPaper, answers: Sequence[PrintedAnswer]) -> Data:
    revision = paper.revision
    return {
        "title": f"{paper.profile.name}, revision {revision.number}: noise and silence",
        "agency": paper.agency.name,
        "profile": paper.profile.name,
        "revision": str(revision.number),
        "stamp": stamp_of(paper),
        "holds": paper.holds,
        "short": grouped(revision.fingerprint[:_SHORT]),
        "fingerprint": grouped(revision.fingerprint),
        "signed": [_signed(signature_of(paper, one)) for one in revision.signatures],
        "printed": words.moment(paper.printed_at, paper.agency.time_zone),
        "synthetic": any(one.evidence.synthetic for one in answers),
        "answers": [_answer(one, paper.agency.time_zone) for one in answers],
    }


def _signed(one: Data) -> list[str]:
    return ["Signed", f"{one['name']}, {one['roles']}, {one['at']}"]


def _answer(one: PrintedAnswer, zone: str) -> Data:
    found = one.evidence
    other = found.against
    return {
        "category": f"{one.category}: {one.circumstance}" if one.circumstance else one.category,
        "current": one.current,
        "hours": f"{found.hours:.1f}",
        "patients": str(found.patients),
        "here": f"Revision {found.policy.revision}",
        "there": "" if other is None else f"Revision {other.revision}",
        "whole": _measured(found.whole, "", found.patients),
        "whole_there": _measured(found.whole_against, "", found.patients),
        "lines": [_line(line) for line in found.lines if line.revision or line.against],
        "silence": [row for line in found.lines for row in _silence(line)],
        "not_replayed": ", ".join(label_of_line(name) for name in found.not_replayed),
        "from": list(_from(one, zone)),
    }


def _line(line: LineEvidence) -> Data:
    unit = alarm_of_line(line.alarm).shown
    return {
        "label": label_of_line(line.alarm),
        "here": _measured(line.revision, unit, line.patients),
        "there": _measured(line.against, unit, line.patients),
        "change": _change(line),
    }


def _measured(found: Measured | None, unit: str, patients: int) -> Data:
    """All empty where the line is not on."""
    if found is None:
        return {"limit": "not on", "rate": "", "more": ""}
    limit = "" if found.limit is None else f"{number_words(found.limit)} {unit}"
    between = "" if found.low is None else f" ({found.low:.2f} to {found.high:.2f})"
    worst = "" if found.worst_tenth is None else f", worst tenth {found.worst_tenth:.0%}"
    return {
        "limit": f"{limit}, {number_words(found.delay_s)} s" if limit else "",
        "rate": f"{found.per_hour:.2f} an hour{between}",
        "more": (
            f"{found.count} {'alarm' if found.count == 1 else 'alarms'}, "
            f"{number_words(found.seconds)} s, "
            f"{found.patients} of {patients} patients{worst}"
        ),
    }


def _change(line: LineEvidence) -> str:
    if line.revision is None or line.against is None or line.change_low is None:
        return ""
    change = line.revision.per_hour - line.against.per_hour
    if change == line.change_low == line.change_high == 0:
        return "none"
    told = f"{change:+.2f} ({line.change_low:+.2f} to {line.change_high:+.2f})"
    return told.replace("-", "−")


def _silence(line: LineEvidence) -> Iterator[list[str]]:
    """At this revision's limit, beyond every bound beyond which anything was recorded."""
    if line.revision is None or line.alarm.endswith(DEEP):
        return  # a deep line and its line are silent together
    at = asked_of(line, line.revision.limit, line.revision.delay_s, None)
    for bound in line.silence:
        if bound.beyond_seconds:
            yield [label_of_line(line.alarm), *_beyond(line, bound, at.delay, at.limit)]


def _beyond(line: LineEvidence, bound: SilentBeyond, delay: int, limit: int) -> list[str]:
    unit = alarm_of_line(line.alarm).shown
    return [
        f"{number_words(bound.value)} {unit} ({bound.grade})",
        f"{bound.seconds[delay][limit]} of {bound.beyond_seconds} s",
        f"{bound.episodes[delay][limit]} of {bound.beyond_episodes}",
        f"{bound.patients[delay][limit]} of {bound.beyond_patients}",
    ]


def _from(one: PrintedAnswer, zone: str) -> Iterator[list[str]]:
    found = one.evidence
    yield ["Policy", f"revision {found.policy.revision}, {grouped(found.policy.fingerprint)}"]
    if found.against is not None:
        other = found.against
        yield ["Held against", f"revision {other.revision}, {grouped(other.fingerprint)}"]
    if one.circumstance:
        told = f"{one.circumstance}; its limits and bounds, the recordings of the category"
        yield ["Circumstance", told]
    yield ["Outer bounds", f"{found.bounds}, {grouped(found.bounds_fingerprint)}"]
    for used in found.recordings:
        told = f"{used.name}: {used.patients} patients, {used.hours:.1f} h"
        yield [f"Recording {used.number}", f"{told}, {grouped(used.fingerprint)}"]
        if used.synthetic:
            yield ["", used.synthetic]
    yield ["Intervals", f"95%, {found.draws} draws of whole patients, seed {found.seed}"]
    yield ["Replayed", f"{words.moment(one.made_at, zone)} by {one.made_by}"]
