"""A setting that nobody can read about does not exist."""

import re
import textwrap

from pydantic_core import PydanticUndefined

from app.settings import PREFIX, Settings
from tests.house.checkout import ROOT

_HEAD = """\
# Every setting of `marchstone serve`, with its default. Copy this file to .env, change what you
# need, and read it into the environment: set -a; . ./.env; set +a
# An empty value counts as not set.
"""


def default(name: str) -> str:
    """As a person would write it; empty where it follows from another setting."""
    value = Settings.model_fields[name].default
    if value is PydanticUndefined or value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


def env_example() -> str:
    parts = [_HEAD]
    for name, field in Settings.model_fields.items():
        about = textwrap.fill(
            field.description or "", 98, initial_indent="# ", subsequent_indent="# "
        )
        parts.append(f"{about}\n{PREFIX}{name.upper()}={default(name)}\n")
    return "\n".join(parts)


def test_the_example_holds_every_setting_with_its_default() -> None:
    assert (ROOT / ".env.example").read_text() == env_example()


def test_the_readme_tells_every_setting_with_its_default() -> None:
    rows = re.findall(rf"^\| `({PREFIX}\w+)` \| (.*?) \|", (ROOT / "README.md").read_text(), re.M)

    assert [name for name, _ in rows] == [
        f"{PREFIX}{name.upper()}" for name in Settings.model_fields
    ]
    for (_, told), name in zip(rows, Settings.model_fields, strict=True):
        assert default(name) == "" or told == f"`{default(name)}`"
