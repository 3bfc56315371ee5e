"""Reading a device through the pages, as a thumb would: begin, then lock look after look."""

import re

from httpx2 import Response
from starlette.testclient import TestClient

from tests.builders import PRESET

DEVICE = "/skerry/devices/boat-3"
READ = f"{DEVICE}/read"
BEGUN = {
    "preset": PRESET,
    "state_read": "power-on",
    "trigger": "monthly check",
    "software": "3.2",
    "minutes_off": "5",
}
READINGS = {
    "heart-rate-low": "75",
    "heart-rate-high": "170",
    "respiratory-rate-low": "15",
    "respiratory-rate-high": "50",
    "spo2-low": "90",
    "spo2-high.found": "off",
    "nibp-systolic-low": "80",
    "apnoea": "20",
    "airway-apnoea": "20",
    "asystole.found": "on",
    "ventricular-fibrillation.found": "on",
    "ventricular-tachycardia.found": "on",
}
_HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)"')


def hidden_in(page: str) -> dict[str, str]:
    return dict(_HIDDEN.findall(page))


def begin(client: TestClient, **instead: str) -> str:
    """The address of the first look."""
    fresh = hidden_in(client.get(READ).text)
    begun = client.post(READ, data=fresh | BEGUN | instead)
    assert begun.status_code == 303, begun.text
    return begun.headers["location"]


def asked_in(page: str) -> set[str]:
    return set(re.findall(r'<fieldset class="alarm[^>]*>.*?id="([^"]+)"', page, re.DOTALL))


def typed(client: TestClient, address: str, **instead: str) -> dict[str, str]:
    """As signed in all that is asked; `spo2_low="88"` replaces one, `apnoea__found` its word."""
    page = client.get(address).text
    asked = asked_in(page)
    signed = {name: told for name, told in READINGS.items() if name.split(".")[0] in asked}
    renamed = {n.replace("__", ".").replace("_", "-"): told for n, told in instead.items()}
    return hidden_in(page) | signed | closely_in(page) | {"minutes_off": "5"} | renamed


def closely_in(page: str) -> dict[str, str]:
    """Where more than the limit is asked: that the device does not show it."""
    more = re.findall(r'name="([^"]+)\.priority"', page)
    parts = {"priority": "unseen", "delay.unseen": "yes", "latching": "unseen"}
    return {f"{alarm}.{part}": told for alarm in more for part, told in parts.items()}


def look(client: TestClient, address: str, **instead: str) -> Response:
    return client.post(address, data=typed(client, address, **instead))


def read(client: TestClient, **instead: str) -> Response:
    return look(client, begin(client), **instead)
