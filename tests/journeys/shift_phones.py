"""A phone in a crew's hand: what is typed at a shift check, and what came of it at the service."""

from collections.abc import Mapping

from playwright.sync_api import Page
from sqlmodel import Session, col, select

from app.domain.people import Role
from app.storage.database import Database
from app.storage.shift_checks import ShiftCheckRow
from tests.builders import PRESET, a_device, a_person, a_signed_revision

SIGNED = {
    "heart-rate-low": "75",
    "heart-rate-high": "170",
    "spo2-low": "90",
    "respiratory-rate-low": "15",
    "apnoea": "20",
}
ASKS_WHO = """async () => {
  if (!globalThis.MarchstoneQueue) return false;
  const { sure, person } = await MarchstoneQueue.who();
  return !sure && person !== "";
}"""
WRONG_CLOCK = """
const Real = Date;
Date = class extends Real {
  constructor(...given) { given.length ? super(...given) : super(Real.now() + AHEAD); }
  static now() { return Real.now() + AHEAD; }
};
"""


def seed(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)
    for role in (Role.CREW, Role.TECHNICIAN, Role.FLEET_MANAGER):
        a_person(tx, role)


def until(page: Page, asked: str) -> None:
    """Until the phone answers yes to an async function; `wait_for_function` takes a promise for a
    yes."""
    page.evaluate(
        f"""async () => {{
          for (let n = 0; n < 600; n += 1) {{
            if (await ({asked})()) return;
            await new Promise((done) => setTimeout(done, 50));
          }}
          throw new Error("it never came to be so");
        }}"""
    )


def ready(page: Page, address: str) -> None:
    """On the look-up with signal: when this returns the phone keeps all it needs."""
    page.goto(f"{address}/skerry/limits")
    page.wait_for_selector("html[data-kept=yes][data-check=kept]")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def fill(page: Page, values: Mapping[str, str] = SIGNED, *, known: bool = True) -> int:
    """As a thumb does it; how many taps it took, with every digit one of them."""
    taps = 0

    def tap(selector: str) -> None:
        nonlocal taps
        page.locator(selector).check()
        taps += 1

    if not known:
        page.locator("#device").fill("boat-3")
        taps += len("boat-3") + 1
    tap(f'input[name=preset][value="{PRESET}"]')
    tap('input[name=state_read][value="power-on"]')
    for alarm, value in values.items():
        page.locator(f'input[name="{alarm}"]').fill(value)
        taps += 1 + len(value)
    page.locator('select[name="spo2-high.found"]').select_option("off")
    taps += 2
    for question in ("alarms-on", "volume", "no-pause", "etco2", "clock", "undamaged"):
        tap(f'input[name="{question}"][value="yes"]')
    if page.evaluate(ASKS_WHO):  # without signal: whoever was signed in last checks
        tap("#checker input >> nth=0")
    return taps


def lock(page: Page) -> None:
    page.get_by_role("button", name="Lock this check").click()


def check(page: Page, address: str, values: Mapping[str, str] = SIGNED) -> None:
    """From the label of the device to locked: nobody is told so before it is on the phone."""
    page.goto(f"{address}/skerry/check?device=boat-3")
    fill(page, values)
    lock(page)
    page.locator("#locked .notice, #brought").first.wait_for()


def kept(page: Page) -> list[tuple[int, str]]:
    """What is on the phone: number and state, in the order in which it was locked."""
    found: list[list[object]] = page.evaluate(
        "async () => (await MarchstoneQueue.all()).map((one) => [one.number, one.state])"
    )
    return [(int(str(number)), str(state)) for number, state in found]


def taken(url: str) -> list[ShiftCheckRow]:
    """What the service has, in the order in which it came."""
    database = Database(url)
    with database.reading() as tx:
        rows = list(tx.exec(select(ShiftCheckRow).order_by(col(ShiftCheckRow.id))))
        tx.expunge_all()
    database.dispose()
    return rows
