"""The options of a draft: what the policy says besides alarms, each with reason and source."""

import json
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain.errors import Conflict, Fault, Refused
from app.domain.findings import Finding
from app.domain.option_edits import (
    choices_of,
    findings_of_option,
    is_typed,
    option_kind,
    with_option,
)
from app.domain.options import OPTIONS, OptionKind
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.domain.scheme_proof import SchemeProof, scheme_proof
from app.lookups.policy import OpenRevision, open_revision
from app.lookups.policy_judged import judged
from app.web.draft_edits import at_fields, save_draft, to_edit
from app.web.notices import done
from app.web.option_entry import TYPED, OptionEntry, option_entry
from app.web.policy_conflicts import both_versions
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/options")
_FIELDS = {"choice", "value", "reason", "source"}


@dataclass(frozen=True)
class OptionRow:
    """One option as it stands or as it was typed; `choices` are value and words."""

    kind: OptionKind
    choices: tuple[tuple[str, str], ...]
    entry: OptionEntry
    findings: tuple[Finding, ...]
    faults: tuple[Fault, ...] = ()

    @property
    def typed(self) -> bool:
        """Whether a value may be typed, or stands that none of the choices is."""
        return is_typed(self.kind) or self.entry.choice == TYPED

    @property
    def stray(self) -> bool:
        """It names what the policy does not know, such as a category that is gone."""
        return not is_typed(self.kind) and self.entry.choice == TYPED


@dataclass(frozen=True)
class OptionsPage:
    base: str
    revision: StoredRevision
    can_edit: bool
    desk: Desk
    proof: SchemeProof
    rows: tuple[OptionRow, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        return tuple(fault for row in self.rows for fault in row.faults)


def _words(found: OpenRevision, kind: OptionKind) -> tuple[str, ...]:
    return tuple(value for value, _ in choices_of(kind, found.profile.categories))


def _page(found: OpenRevision, person: Person) -> OptionsPage:
    findings = judged(found).findings
    return OptionsPage(
        base_of(person, found.revision.number),
        found.revision,
        can_edit(found.revision, person),
        desk_of(found, findings, person),
        scheme_proof(found.profile.categories),
        tuple(
            OptionRow(
                kind,
                choices_of(kind, found.profile.categories),
                option_entry(found.profile.options.get(key), _words(found, kind)),
                findings_of_option(findings, key),
            )
            for key, kind in OPTIONS.items()
        ),
    )


@router.get("")
def options(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "policy/options.html", _page(found, person))


@router.post("/{key}")
def save_option(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    key: str,
    entry: Annotated[OptionEntry, Form()],
) -> Response:
    found = to_edit(request, person, number, now)
    kind = option_kind(key)
    here = f"{base_of(person, number)}/options"
    try:
        option = entry.option(kind, _words(found, kind))
        document = with_option(json.loads(found.revision.document), key, option)
        version = entry.edit_version
        save_draft(request, person, now, number=number, document=document, edit_version=version)
    except Refused as refused:
        told = _with_faults(_page(found, person), key, entry, refused)
        return render(request, "policy/options.html", told, status=422)
    except Conflict as conflict:
        return both_versions(request, conflict, what=kind.label, leave=here)
    return done(f"{here}#{key}", f"Saved: {kind.label}.")


def _with_faults(page: OptionsPage, key: str, entry: OptionEntry, refused: Refused) -> OptionsPage:
    faults = tuple(
        fault if fault.column in _FIELDS else replace(fault, column=None)
        for fault in at_fields(refused)
    )
    rows = tuple(
        replace(row, entry=entry, faults=faults) if row.kind.key == key else row
        for row in page.rows
    )
    return replace(page, rows=rows)
