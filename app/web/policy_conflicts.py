"""Two people edited one draft: the second sees both versions, and decides."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import Response

from app.domain.document_differences import Difference, differences
from app.domain.errors import Conflict, Refused
from app.domain.redline import Redline, redline
from app.exchange.profile_json import profile_from_document
from app.web.render import render
from app.web.typed import typed_in

MOST_SHOWN = 200


@dataclass(frozen=True)
class ConflictPage:
    """`fields` repeat what was sent, on top of the newest version; `redline` is from the draft as
    it stands to what saving again would make of it, None where that is no readable policy."""

    message: str
    what: str
    action: str
    leave: str
    fields: tuple[tuple[str, str], ...]
    redline: Redline | None
    differences: tuple[Difference, ...]

    @property
    def shown(self) -> tuple[Difference, ...]:
        return self.differences[:MOST_SHOWN]

    @property
    def more(self) -> int:
        return len(self.differences) - len(self.shown)


def both_versions(
    request: Request,
    conflict: Conflict,
    *,
    what: str,
    leave: str,
    fields: Mapping[str, str] | None = None,
) -> Response:
    """The answer to a form of an editor that `edit_draft` refused with a Conflict: status 409.

    `what` says what was being saved ("The category Infant"), `leave` is the address to go to
    without saving. `fields` are those the form sends again, if they are not simply those typed;
    `edit_version` is always the newest. Of a fragment, it goes into the page's place for notices.
    """
    theirs = _document(conflict.theirs)
    # Number and agency are those of the draft, whatever was typed or uploaded.
    yours = _document(conflict.yours) | {key: theirs[key] for key in ("agency", "revision")}
    sent = typed_in(request) if fields is None else tuple(fields.items())
    others = [(name, value) for name, value in sent if name != "edit_version"]
    page = ConflictPage(
        conflict.message,
        what,
        request.url.path,
        leave,
        (*others, ("edit_version", str(conflict.version))),
        _redline(theirs, yours),
        differences(theirs, yours),
    )
    if "hx-request" not in request.headers:
        return render(request, "policy/conflict.html", page, status=conflict.status)
    answer = render(request, "policy/_conflict.html", page, status=conflict.status)
    answer.headers.update({"HX-Retarget": "#told", "HX-Reswap": "innerHTML show:top"})
    return answer


def _document(held: object) -> dict[str, Any]:
    if isinstance(held, str):
        held = json.loads(held)
    if not isinstance(held, Mapping):
        raise TypeError("both versions of a policy are its documents")
    return dict(held)


def _redline(theirs: dict[str, Any], yours: dict[str, Any]) -> Redline | None:
    """What was typed may be no policy at all: nobody has judged it yet."""
    try:
        return redline(profile_from_document(theirs), profile_from_document(yours))
    except Refused:
        return None
