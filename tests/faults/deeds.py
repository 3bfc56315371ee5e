"""What is being done when the service dies; each goes on until it is gone."""

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from tests.builders import PASSWORD, PRESET, a_document, as_signed
from tests.faults.clients import CSV, Client, Gone, Memory
from tests.reading_files import HEADER

DEVICES = 20
FINDINGS = 30
ROUNDS_OF_A_LONG_FILE = 6
BEGAN = datetime.now(UTC) - timedelta(days=2)


def sign(client: Client, memory: Memory, dice: int) -> None:
    """A draft, its submission, its signature, again and again."""
    for number in count():
        document = a_document({"heart-rate-high": 160 + (dice + number) % 10})
        document["agency"] = "Skerry Ambulance"
        draft = client.post("revisions", document, who="anna")
        memory.drafts.add(draft["number"])
        client.post(f"revisions/{draft['number']}/submit", {"note": "so"}, who="anna")
        asked = {"fingerprint": draft["fingerprint"], "meaning": "ours", "password": PASSWORD}
        client.post(f"revisions/{draft['number']}/sign", asked, who="dana")
        memory.signed.add(draft["number"])


def take_in(client: Client, memory: Memory, _: int) -> None:
    """A file of many readings; the one that had no answer is sent again first."""
    while True:
        content = memory.unanswered_file or a_round_of_readings(memory.next())
        memory.unanswered_file = content
        client.post("readings", content, who="femi", kind=CSV)
        memory.files.add(hashlib.sha256(content).hexdigest())
        memory.unanswered_file = None


def take_in_beside(client: Client, memory: Memory, _: int) -> None:
    """A file so long that another process takes it in; what was accepted is done later."""
    while True:
        rounds = [a_round_of_readings(memory.next()) for _ in range(ROUNDS_OF_A_LONG_FILE)]
        content = rounds[0] + b"".join(one.partition(b"\n")[2] for one in rounds[1:])
        accepted = client.post("readings", content, who="femi", kind=CSV)
        memory.works[accepted["work"]] = hashlib.sha256(content).hexdigest()


def a_round_of_readings(number: int) -> bytes:
    """Every device, each at a second of its own, half of them astray."""
    at = f"{BEGAN + timedelta(seconds=number):%Y-%m-%dT%H:%M:%SZ}"
    alarms = [alarm for alarm in as_signed() if alarm.startswith(("heart", "spo2-low", "nibp"))]
    rows = [
        f"file-{device},{at},power-on,{PRESET},{alarm},{90 + device}"
        for device in range(DEVICES)
        for alarm in alarms
    ]
    return "\n".join([HEADER, *rows, ""]).encode()


def bring_checks(client: Client, memory: Memory, _: int) -> None:
    """The queue of a phone; the check that had no answer is sent again first."""
    while True:
        key, check = memory.unanswered_check or _a_check(memory.next())
        memory.unanswered_check = (key, check)
        client.post("checks", check, who="cruz", key=key)
        memory.checks.add(key)
        memory.unanswered_check = None


def _a_check(number: int) -> tuple[str, dict[str, Any]]:
    locked = BEGAN + timedelta(seconds=number)
    queued = {"phone": "phone-1", "number": number, "locked_at": locked.isoformat()}
    return f"check-{number:06}", {
        "device": f"shift-{number % DEVICES}",
        "preset": PRESET,
        "state_read": "power-on",
        "minutes_off": 20,
        "readings": {
            "heart-rate-low": {"state": "on", "limit": 75},
            "heart-rate-high": {"state": "on", "limit": 170},
        },
        "queued": queued | {"sent_at": datetime.now(UTC).isoformat()},
    }


def move(client: Client, memory: Memory, _: int) -> None:
    """Findings, from open to corrected; then words about them."""
    for step in STEPS:
        if step in memory.steps:
            continue
        number, to, who = step
        again = step == memory.unanswered_step
        memory.unanswered_step = step
        asked = {"to": to, "note": "so"}
        client.post(f"findings/{number}/steps", asked, who=who, taken_already=again)
        memory.steps.add(step)
        memory.unanswered_step = None
    while True:
        client.post("findings/1/comments", {"text": "both crews were asked"}, who="femi")


STEPS = [
    (number, to, who)
    for number in range(1, FINDINGS + 1)
    for to, who in (("contained", "femi"), ("corrected", "tess"))
]
Deed = Callable[[Client, Memory, int], None]
DEEDS: dict[str, Deed] = {
    "sign": sign,
    "import": take_in,
    "long import": take_in_beside,
    "queue sync": bring_checks,
    "finding moves": move,
}


def until_gone(deed: Deed, client: Client, memory: Memory, dice: int) -> None:
    try:
        deed(client, memory, dice)
    except Gone:
        return
