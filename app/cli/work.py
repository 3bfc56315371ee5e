"""`marchstone work`: does long work, until it is stopped."""

from argparse import Namespace

from app.cli import house
from app.cli.output import FINE


def run(arguments: Namespace) -> int:
    house.working().work(house.settings(), beside=arguments.beside)
    return FINE
