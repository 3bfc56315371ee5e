"""What the invented people said of a few findings: owners, a comment, an acceptance, a hold."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

from app.actions.finding_words import accept_finding, assign_finding, comment_on_finding
from app.actions.quarantines import Passed, hand_over, keep_log, place_in_quarantine
from app.demo.people import Staff
from app.demo.policy import Event
from app.domain.people import Person, Role
from app.lookups.findings import findings

_HOUR, _DAY = timedelta(hours=1), timedelta(days=1)
_FEMI, _TESS, _DANA = Role.FLEET_MANAGER, Role.TECHNICIAN, Role.MEDICAL_DIRECTOR
_SILENT, _TIGHT, _COPIED = "road-2", "boat-1", "road-15"
_LOG = sha256(b"invented log of road-2").hexdigest()


def finding_events(tx: Any, staff: Staff) -> Iterator[Event]:
    """Hours before the first day of the demo, each after the reading that found it."""
    femi, tess, dana = staff[_FEMI], staff[_TESS], staff[_DANA]

    def on(tag: str, act: Callable[..., object], by: Person, **told: Any) -> Any:
        return lambda now: _each(tx, tag, act, by=by, now=now, **told)

    yield 10 * _HOUR, on(_SILENT, assign_finding, femi, to=femi.username)
    yield 9 * _HOUR, on(_SILENT, place_in_quarantine, femi, reason=_WHY)
    yield 8 * _HOUR, lambda now: _hand_over(tx, femi, tess, now)
    yield 7 * _HOUR, lambda now: keep_log(tx, device=_SILENT, **_KEPT, by=tess, now=now)
    yield 6 * _HOUR, on(_SILENT, comment_on_finding, tess, text=_ASKED)
    yield 18 * _DAY - 9 * _HOUR, lambda now: _accept(tx, dana, now)
    yield 8 * _DAY - 8 * _HOUR, on(_COPIED, assign_finding, femi, to=tess.username)


_WHY = "Switched off by nobody knows whom: its own log must tell since when."
_KEPT = {"fingerprint": _LOG, "place": "Skerry Main, safe, drive 2"}
_ASKED = "Both crews of the week were asked: nobody remembers switching it off."
_STAYS = "Set so for the winter transfers; the next revision takes it up."


def _each(tx: Any, tag: str, act: Callable[..., object], **told: Any) -> None:
    by, now = told["by"], told["now"]
    for page in findings(tx, agency_id=by.agency_id, now=now, device=tag):
        act(tx, finding_id=page.finding.id, **told)


def _hand_over(tx: Any, femi: Person, tess: Person, now: datetime) -> None:
    passed = Passed(femi.name, tess.name, now, "Skerry Main, locked store", seal="4417")
    hand_over(tx, device=_SILENT, passed=passed, by=femi, now=now)


def _accept(tx: Any, dana: Person, now: datetime) -> None:
    until = now.date() + 60 * _DAY
    _each(tx, _TIGHT, accept_finding, by=dana, now=now, reason=_STAYS, until=until)
