import re
from dataclasses import dataclass

from app.domain.errors import Refused

_TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", re.ASCII)


@dataclass(frozen=True)
class Device:
    """`tag` is on its label and in its address; `model` is a key of the profile's models."""

    id: int
    tag: str
    model: str
    station: str


def check_tag(tag: str) -> None:
    if not _TAG.fullmatch(tag):
        raise Refused.because("use 1 to 40 letters, digits and . _ -", column="tag", value=tag)
