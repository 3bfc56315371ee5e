"""`marchstone serve`: the service, from environment settings."""

from argparse import Namespace

from app.cli import house


def run(_: Namespace) -> int:
    return house.main().serve(house.settings())
