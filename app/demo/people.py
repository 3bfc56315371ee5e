"""The invented people of the invented agency, one to a role; the demo prints their passwords."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.actions.people import add_person, first_administrator, make_setup_link
from app.demo.profile import AGENCY
from app.domain.agencies import NewAgency
from app.domain.people import Person, Role

KEY = "skerry-isles"
ZONE = "Atlantic/Faroe"


@dataclass(frozen=True)
class SignIn:
    """It opens nothing but invented data on the machine that printed it."""

    username: str
    name: str
    role: Role
    password: str


SIGN_INS = (
    SignIn("ada", "Ada Holm", Role.ADMINISTRATOR, "grey seals on the slip"),
    SignIn("anna", "Anna Reyne", Role.AUTHOR, "two ferries before noon"),
    SignIn("ravi", "Ravi Calder", Role.REVIEWER, "a lamp in every window"),
    SignIn("dana", "Dana Sund", Role.MEDICAL_DIRECTOR, "march stones hold the hill"),
    SignIn("femi", "Femi Oyce", Role.FLEET_MANAGER, "twelve keys on one board"),
    SignIn("tess", "Tess Loft", Role.TECHNICIAN, "spare leads in the drawer"),
    SignIn("cruz", "Cruz Bell", Role.CREW, "night boat to the north"),
    SignIn("quinn", "Quinn Moar", Role.QUALITY_OFFICER, "counted twice and written"),
    SignIn("edda", "Edda Lund", Role.EDUCATOR, "chalk dust and sea wind"),
)

Staff = Mapping[Role, Person]


def hire(tx: Any, *, now: datetime) -> Staff:
    """Makes the agency with its administrator, who adds everybody else."""
    first, *others = SIGN_INS
    admin = first_administrator(
        tx,
        token=make_setup_link(tx, now=now),
        agency=NewAgency(KEY, AGENCY, ZONE),
        username=first.username,
        name=first.name,
        password=first.password,
        now=now,
    )
    added = {
        one.role: add_person(
            tx,
            username=one.username,
            name=one.name,
            roles=[one.role],
            password=one.password,
            by=admin,
            now=now,
        )
        for one in others
    }
    return {first.role: admin, **added}


def password_of(role: Role) -> str:
    return next(one.password for one in SIGN_INS if one.role is role)
