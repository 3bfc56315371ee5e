"""PostgreSQL itself dies in the midst of writing, and is started again; the service stays."""

import time
from dataclasses import dataclass
from random import Random

from tests.faults.clients import Client, Gone
from tests.faults.own_server import OwnServer
from tests.faults.rounds import Serving

NOTICES_WITHIN_S = 30
"""So soon after its database is back, the same service answers again."""


@dataclass
class ServerKilled:
    server: OwnServer

    def strike(self, serving: Serving, dice: Random) -> None:  # noqa: ARG002 - it stays
        server = self.server
        dice.choice([server.kill, server.stop_at_once, server.kill_one_connection])()

    def mend(self, serving: Serving) -> None:
        self.server.start()
        try:
            answers_again(serving)
        finally:
            serving.kill(Random(0))


def answers_again(serving: Serving) -> None:
    """Without being started anew."""
    first = next(iter(serving.clients.values()))
    until = time.monotonic() + NOTICES_WITHIN_S
    while time.monotonic() < until:
        client = Client(first.port, first.tokens)
        try:
            client.post("findings/1/comments", {"text": "back again"}, who="femi")
        except Gone:
            time.sleep(0.05)
        else:
            return
    raise AssertionError("its database is back, and the service does not answer")
