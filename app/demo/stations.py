"""Where the forty-six invented devices live, and of which model each is."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Placed:
    tag: str
    model: str
    station: str


def _numbered(kind: str, first: int, last: int, model: str, station: str) -> tuple[Placed, ...]:
    return tuple(Placed(f"{kind}-{number}", model, station) for number in range(first, last + 1))


DEVICES = (
    *_numbered("road", 1, 12, "dunlin", "Hollavoe"),
    *_numbered("spare", 1, 2, "dunlin", "Hollavoe"),
    *_numbered("road", 13, 20, "turnstone", "Skarra"),
    *_numbered("road", 21, 24, "petrel", "Skarra"),
    *_numbered("boat", 1, 4, "dunlin", "Brenna Harbour"),
    *_numbered("boat", 5, 9, "petrel", "Brenna Harbour"),
    *_numbered("spare", 3, 3, "petrel", "Brenna Harbour"),
    *_numbered("air", 1, 8, "petrel", "Tern Field"),
    *_numbered("spare", 4, 5, "petrel", "Tern Field"),
)
