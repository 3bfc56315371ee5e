"""The signed paper: a revision as evidence, complete in itself."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from urllib.parse import quote, urlsplit

from app.domain.findings import Finding
from app.domain.local_days import day_words
from app.domain.moves import RevisionStatus
from app.domain.options import OPTIONS
from app.domain.papers import LedgerPlace, PolicyPaper
from app.domain.revisions import Signature
from app.exchange import paper_words as words
from app.exchange.corridor_drawing import corridor_pictures
from app.exchange.paper_presets import by_model
from app.exchange.paper_settings import Notes, by_category, by_circumstance, glance
from app.exchange.paper_waivers import Waived
from app.exchange.qr_codes import qr_svg
from app.exchange.typst_papers import Press

Data = dict[str, Any]
TEMPLATE = "policy"
_GROUP = 8  # as many digits of a fingerprint as anybody compares at a glance
_ON_THIS_MACHINE = frozenset({"127.0.0.1", "localhost", "::1"})


def policy_pdf(press: Press, paper: PolicyPaper, *, base: str) -> bytes:
    """`base`: the address under which people reach the service."""
    pictures = corridor_pictures(paper.corridor)
    data = policy_data(paper, base=base) | {"corridors": list(pictures)}
    if paper.is_signed:
        pictures["qr"] = qr_svg(confirm_address(paper, base))
    return press.set_paper(TEMPLATE, data, at=paper.printed_at, pictures=pictures)


def confirm_address(paper: PolicyPaper, base: str) -> str:
    """Where anybody learns whether this paper still holds, and its ledger head is known."""
    return f"{confirm_path(paper, base)}?head={paper.head.hash}"


def confirm_path(paper: PolicyPaper, base: str) -> str:
    agency, print_ = quote(paper.agency.key), paper.revision.fingerprint
    return f"{base.rstrip('/')}/{agency}/confirm/{print_}"


def policy_data(paper: PolicyPaper, *, base: str) -> Data:
    """What the template prints, all of it text."""
    revision, profile = paper.revision, paper.profile
    notes, waived = Notes(), Waived(paper.waivers)
    return {
        "title": f"{profile.name}, revision {revision.number}",
        "agency": paper.agency.name,
        "profile": profile.name,
        "revision": str(revision.number),
        "stamp": stamp_of(paper),
        "holds": paper.holds,
        "signed": paper.is_signed,
        "fingerprint": grouped(revision.fingerprint),
        "short": grouped(revision.fingerprint[: 2 * _GROUP]),
        "printed": words.moment(paper.printed_at, paper.agency.time_zone),
        "confirm": _confirm(paper, base),
        "facts": [list(fact) for fact in _facts(paper)],
        "signatures": [signature_of(paper, one) for one in revision.signatures],
        "ledger": _ledger(paper),
        "categories": [
            {"label": one.label, "key": one.key, "ages": str(one.span)}
            for one in profile.categories
        ],
        "waivers": waived.listed(today=paper.today, zone=paper.agency.time_zone),
        "fans": sorted({lane.fan_source for lane in paper.corridor.lanes if lane.fan_source}),
        "glance": glance(profile, waived),
        "settings": by_category(profile, notes, waived),
        "circumstances": by_circumstance(profile, notes, waived),
        "options": _options(paper, notes),
        "models": by_model(profile, waived),
        "findings": [_finding(one, waived) for one in paper.findings],
        "bounds": paper.bounds,
        "notes": notes.listed(),
    }


def stamp_of(paper: PolicyPaper) -> str:
    if not paper.is_signed:
        waiting = paper.revision.status is RevisionStatus.IN_REVIEW
        return "IN REVIEW, not signed" if waiting else "DRAFT, not signed"
    return {
        RevisionStatus.SIGNED: "SIGNED, not yet in force",
        RevisionStatus.IN_FORCE: "IN FORCE when printed",
        RevisionStatus.SUPERSEDED: "SUPERSEDED",
        RevisionStatus.WITHDRAWN: "WITHDRAWN",
    }[paper.revision.status]


def _facts(paper: PolicyPaper) -> Iterator[tuple[str, str]]:
    revision = paper.revision
    yield "Status when printed", revision.status.words
    if revision.came_into_force and revision.in_force_at is not None:
        yield "In force from", _moment(paper, revision.in_force_at)
    if revision.withdrawn_at is not None:
        yield "Withdrawn", _moment(paper, revision.withdrawn_at)
    elif revision.until is not None:
        yield "In force until", _moment(paper, revision.until)
    yield "Written by", ", ".join(author.name for author in revision.authors)
    if revision.review is not None:
        yield "Reviewed by", f"{revision.review.name}, {_moment(paper, revision.review.at)}"
    yield from _duties(paper)
    yield "Outer bounds", f"judged by: {paper.bounds}"
    if paper.replayed:
        labels = [one.label for one in paper.profile.categories if one.key in paper.replayed]
        yield "Annex", f"noise and silence of {', '.join(labels)}, printed apart"


def _duties(paper: PolicyPaper) -> Iterator[tuple[str, str]]:
    """What somebody still has to do, and whether it was late when this was printed."""
    revision = paper.revision
    if revision.emergency is not None:
        yield "Emergency", f"signed without a second person: {revision.emergency}"
    due = revision.after_review_due
    if due is not None:
        late = ", OVERDUE when printed" if due < paper.printed_at else ""
        yield "Review of it due", f"{_moment(paper, due)}, by somebody else{late}"
    if revision.review_by is not None:
        late = ", OVERDUE when printed" if revision.review_by < paper.today else ""
        yield "Review by", f"{day_words(revision.review_by)}{late}"


def _moment(paper: PolicyPaper, at: datetime) -> str:
    return words.moment(at, paper.agency.time_zone)


def signature_of(paper: PolicyPaper, one: Signature) -> Data:
    return {
        "name": one.name,
        "username": one.username,
        "roles": ", ".join(role.replace("-", " ") for role in one.roles),
        "at": _moment(paper, one.at),
        "meaning": one.meaning,
        "fingerprint": grouped(one.fingerprint),
    }


def _confirm(paper: PolicyPaper, base: str) -> Data:
    host = urlsplit(base).hostname or ""
    return {
        "address": confirm_path(paper, base) if paper.is_signed else "",
        "here_only": host in _ON_THIS_MACHINE,
    }


def _ledger(paper: PolicyPaper) -> Data:
    zone = paper.agency.time_zone
    signing = None if paper.signing is None else _place(paper.signing)
    return {"zone": zone, "head": _place(paper.head), "signing": signing}


def _place(place: LedgerPlace) -> Data:
    return {"seq": str(place.seq), "hash": grouped(place.hash)}


def grouped(digits: str) -> str:
    return " ".join(digits[at : at + _GROUP] for at in range(0, len(digits), _GROUP))


def _options(paper: PolicyPaper, notes: Notes) -> list[Data]:
    return [
        {
            "label": kind.label,
            "value": words.option(key, option.value),
            "note": notes.number_of(option),
        }
        for key, kind in OPTIONS.items()
        if (option := paper.profile.options.get(key)) is not None
    ]


def _finding(one: Finding, waived: Waived) -> Data:
    return {
        "severity": one.severity.value,
        "waived": waived.of(one),
        "message": one.message,
        "source": one.source,
    }
