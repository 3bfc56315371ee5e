"""`marchstone demo`: a seeded service with an invented agency; its data stay in a folder."""

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from app.cli import house
from app.cli.output import rows
from app.settings import Settings

FOLDER = "marchstone-demo"


def run(arguments: Namespace) -> int:
    # Nothing from the environment: a demo never touches the database of a real service.
    folder = Path(arguments.data or FOLDER).absolute()
    given = {"MARCHSTONE_DATA_DIR": str(folder)}
    if arguments.port is not None:
        given["MARCHSTONE_PORT"] = str(arguments.port)
    settings = Settings.from_environment(given)
    main = house.main()
    greeting = _told(main.DEMO_AGENCY, main.DEMO_SIGN_INS, settings, folder)
    return main.serve(settings, open_house=main.demo_database, greeting=greeting, demo=True)


def _told(agency: str, sign_ins: Sequence[Any], settings: Settings, folder: Path) -> str:
    people = [("role", "username", "password", "name")]
    people += [(one.role.words, one.username, one.password, one.name) for one in sign_ins]
    return "\n".join(
        [
            "Demonstration: the agency, its people, devices and readings are all invented.",
            f"The data lie in {folder}",
            f"Look up limits without signing in: {settings.address}/{agency}/limits",
            f"Sign in to the agency {agency} at {settings.address}/sign-in?agency={agency}",
            "",
            rows(people),
            "",
        ]
    )
