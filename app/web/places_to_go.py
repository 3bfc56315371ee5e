"""The navigation: one line a place, shown to those who may go there."""

from dataclasses import dataclass

from app.domain.people import Person
from app.domain.permissions import Deed, may


@dataclass(frozen=True)
class Place:
    """`path` follows the agency; `deed` None is open to everybody signed in. What is not `daily`
    stands on the first page alone."""

    label: str
    path: str
    about: str
    deed: Deed | None = None
    daily: bool = True


PLACES = (
    Place("Limits", "limits", "Look up the limits in force for an age or a category."),
    Place("Policy", "policy", "The age corridor; drafts; signing.", Deed.SEE_POLICY),
    Place("Bounds", "bounds", "Beyond which values must sound an alarm.", Deed.SEE_POLICY),
    Place(
        "News",
        "news",
        "What a new revision changes for you, and who has seen it.",
        Deed.ACKNOWLEDGE,
        daily=False,
    ),
    Place(
        "Practice",
        "practice",
        "Twenty cases at the edges of your own policy.",
        Deed.PRACTISE,
        daily=False,
    ),
    Place(
        "Cards",
        "cards",
        "Pocket cards, and which of them to take back.",
        Deed.SEE_POLICY,
        daily=False,
    ),
    Place(
        "Recordings",
        "recordings",
        "Recorded trends that drafts are replayed against.",
        Deed.SEE_POLICY,
        daily=False,
    ),
    Place("Fleet", "fleet", "The tide wall: which devices hold the policy.", Deed.SEE_FLEET),
    Place(
        "Read", "readings", "Read a device blind; where a second look is wanted.", Deed.READ_DEVICE
    ),
    Place(
        "Shift checks",
        "checks",
        "Check a device; which ones want it, and what crews found.",
        Deed.SEE_FLEET,
        daily=False,
    ),
    Place("Register", "register", "Every device, and whether it is cleared.", Deed.SEE_FLEET),
    Place("Findings", "findings", "What somebody must act on.", Deed.SEE_FLEET),
    Place(
        "Choices",
        "choices",
        "Check interval, due times, critical alarms.",
        Deed.SEE_FLEET,
        daily=False,
    ),
    Place("Tokens", "tokens", "Which programs act for the agency.", Deed.GIVE_TOKENS, daily=False),
    Place(
        "Installation",
        "installation",
        "Version, last backup, head of the ledger.",
        Deed.SEE_INSTALLATION,
        daily=False,
    ),
    Place("People", "people", "Who works here, and in which role.", Deed.MANAGE_PEOPLE),
)


def places_for(person: Person | None) -> list[Place]:
    if person is None:
        return []
    return [place for place in PLACES if place.deed is None or may(person, place.deed)]
