"""The proof of a revision's scheme, and whoever its reader wants to try on it."""

import re
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.ages import Age
from app.domain.edge_cases import EdgeAnswer, EdgeCase, answer
from app.domain.errors import Fault, Refused
from app.domain.permissions import Deed, check_may
from app.domain.postmenstrual import Gestation
from app.domain.revisions import StoredRevision
from app.domain.scheme_proof import SchemeProof, scheme_proof
from app.lookups.policy import open_revision
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/proof")
Word = Annotated[str, Field(max_length=20)]
_KG = re.compile(r"\d{1,3}(\.\d{1,3})?", re.ASCII)


class Trial(BaseModel):
    """As typed; what stays empty is unknown."""

    age: Word = ""
    weight: Word = ""
    gestation: Word = ""

    def case(self) -> EdgeCase:
        """Raises Refused with everything that cannot be read."""
        faults: list[Fault] = []
        age, gestation = self._age(faults), self._gestation(faults)
        weight = self.weight.strip()
        if weight and _KG.fullmatch(weight) is None:
            faults.append(Fault("write a number of kilograms such as 3.5", column="weight"))
        if faults:
            raise Refused(faults)
        kg = float(weight) if weight else None
        return EdgeCase(self.name, age, weight_kg=kg, gestation=gestation)

    def _age(self, faults: list[Fault]) -> Age | None:
        try:
            return Age.parse(self.age.strip()) if self.age.strip() else None
        except ValueError as error:
            faults.append(Fault(str(error), column="age"))
            return None

    def _gestation(self, faults: list[Fault]) -> Gestation | None:
        try:
            return Gestation.parse(self.gestation) if self.gestation.strip() else None
        except Refused as refused:
            faults += refused.faults
            return None

    @property
    def name(self) -> str:
        parts = (
            f"Age {self.age.strip() or 'unknown'}",
            f"{self.weight.strip()} kg" if self.weight.strip() else "weight unknown",
            f"born at {self.gestation.strip()} weeks" if self.gestation.strip() else "",
        )
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True)
class ProofPage:
    """`tried` None: nobody asked, or what was typed could not be read."""

    base: str
    revision: StoredRevision
    proof: SchemeProof
    trial: Trial
    tried: EdgeAnswer | None = None
    faults: tuple[Fault, ...] = ()


@router.get("")
def proof(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    trial: Annotated[Trial, Query()],
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    categories = found.profile.categories
    tried: EdgeAnswer | None = None
    faults: tuple[Fault, ...] = ()
    if trial.model_fields_set:
        try:
            tried = answer(categories, trial.case())
        except Refused as refused:
            faults = refused.faults
    page = ProofPage(
        base_of(person, number), found.revision, scheme_proof(categories), trial, tried, faults
    )
    return render(request, "policy/proof.html", page, status=422 if faults else 200)
