"""The house, opened by name: only `app.main` may plug the floors together, and a file command
must not pay for importing it."""

import importlib
import os
from typing import Any

from app.settings import Settings


def main() -> Any:
    return importlib.import_module("app.main")


def settings() -> Settings:
    return Settings.from_environment(os.environ)
