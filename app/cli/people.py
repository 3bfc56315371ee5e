"""`marchstone people`: accounts of an agency, on the machine itself."""

from argparse import Namespace
from datetime import UTC, datetime
from typing import Any

from app.cli import house
from app.cli.output import FINE, print_json, rows
from app.domain.errors import Refused
from app.domain.people import Person

DEEDS = ("list", "invite", "link", "close", "open-again", "sign-out")


def run(arguments: Namespace) -> int:
    found = _done(arguments)
    if arguments.json:
        print_json(found)
    elif arguments.deed == "list":
        lines = [("username", "name", "roles", "account")]
        lines += [
            (one["username"], one["name"], ", ".join(one["roles"]), one["account"])
            for one in found["people"]
        ]
        print(rows(lines))
    elif "link" in found:
        print(f"By this link the password is set, once and within three days:\n{found['link']}")
    else:
        print(f"{found['username']}: {found['ended']} sessions ended.")
    return FINE


def _done(arguments: Namespace) -> dict[str, Any]:
    staffing, settings, now = house.staffing(), house.settings(), datetime.now(UTC)
    agency, username = arguments.agency, arguments.username or ""
    if arguments.deed == "list":
        open_ones, closed = staffing.staff(settings, agency)
        told = [_person(one, "open") for one in open_ones]
        return {"people": told + [_person(one, "closed") for one in closed]}
    if not username:
        raise Refused.because("say whose account", column="USERNAME")
    if arguments.deed == "invite":
        roles, name = arguments.role or [], arguments.name or ""
        link = staffing.invite_person(settings, agency, username, name, roles, now)
        return {"username": username, "link": link}
    if arguments.deed in ("link", "open-again"):
        again = arguments.deed == "open-again"
        link = staffing.link_for(settings, agency, username, now, again=again)
        return {"username": username, "link": link}
    ending = staffing.close if arguments.deed == "close" else staffing.sign_out
    return {"username": username, "ended": ending(settings, agency, username, now)}


def _person(one: Person, account: str) -> dict[str, object]:
    return {
        "username": one.username,
        "name": one.name,
        "roles": sorted(role.value for role in one.roles),
        "account": account,
    }
