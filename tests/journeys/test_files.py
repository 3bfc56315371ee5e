"""A file of another system: mapped once, looked at, taken in; and a token for the next one."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import FilePayload, Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.builders import PRESET, a_device, a_document, a_person, a_signed_revision
from tests.exchange.test_report_files import a_workbook
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.reading_files import HEADER

CHOOSE, MAPPER = "Take in a file of readings", "What stands in which column?"


def seed(tx: Session) -> None:
    volume = {"audio-volume": {"value": 80, "reason": "heard at the seat of the crew"}}
    policy = {**a_document(), "options": volume}
    a_signed_revision(tx, document=policy, now=wall_clock() - timedelta(days=30))
    a_device(tx)
    for role in (Role.FLEET_MANAGER, Role.ADMINISTRATOR):
        a_person(tx, role)


def a_log(*rows: str) -> FilePayload:
    taken = (wall_clock() - timedelta(hours=2)).strftime("%d/%m/%Y %H:%M")
    lines = ["Unit,Taken,Profile,Item,Value", *(f"boat-3,{taken},{PRESET},{row}" for row in rows)]
    return {"name": "log.csv", "mimeType": "text/csv", "buffer": "\n".join([*lines, ""]).encode()}


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_file_of_another_system_is_taken_in(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width, javascript=javascript), address, "femi")

    # Its columns are not ours.
    femi.goto(f"{address}/skerry/fleet/readings")
    look_at(femi, CHOOSE, javascript=javascript)
    choose(femi, a_log("HR hi,200", "HR lo,---"))
    look_at(femi, MAPPER, javascript=javascript)
    femi.get_by_label("Name of the system").fill("Bench log")
    for ours, theirs in (
        ("device", "Unit"),
        ("read_at", "Taken"),
        ("preset", "Profile"),
        ("alarm", "Item"),
        ("reading", "Value"),
    ):
        femi.get_by_label(f"Column for {ours}", exact=True).select_option(theirs)
    femi.get_by_label("The same state_read in every row").fill("power-on")
    femi.get_by_label("Times are written as").select_option("31/03/2026 14:05")
    femi.get_by_role("button", name="Remember it").click()

    # Nor are its words.
    expect(femi.get_by_role("heading", name="What its words mean")).to_be_visible()
    look_at(femi, MAPPER, javascript=javascript)
    femi.get_by_label("alarm HR hi is").select_option("heart-rate-high")
    femi.get_by_label("alarm HR lo is").select_option("heart-rate-low")
    femi.get_by_label("reading --- is").select_option("off")
    femi.get_by_role("button", name="Remember it").click()

    # What it would change is shown first.
    look_at(femi, "What log.csv would change", javascript=javascript)
    expect(
        femi.get_by_text("Heart rate can rise from 170 to 200 /min unannounced.")
    ).to_be_visible()
    femi.get_by_role("button", name="Take the whole file").click()
    expect(femi.get_by_text("1 reports with 2 readings were taken in.")).to_be_visible()

    # The next one is understood, and what is wrong with it told by its own columns.
    femi.goto(f"{address}/skerry/fleet/readings")
    choose(femi, a_log("HR hi,many"))
    expect(femi.get_by_text("line 2, Value: must be a number")).to_be_visible()
    look_at(femi, "What log.csv would change", javascript=javascript)
    femi.goto(f"{address}/skerry/fleet/maps")
    look_at(femi, "Files of other systems", javascript=javascript)
    femi.get_by_role("link", name="Change Bench log").click()
    look_at(femi, MAPPER, javascript=javascript)


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_workbook_is_looked_at_and_taken_in_once(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    """Of our own columns: refused rows, the good ones, options, the same file again."""
    address = serve(seed)
    femi = sign_in(open_page(width=width, javascript=javascript), address, "femi")
    at = (wall_clock() - timedelta(hours=2)).isoformat()
    start = ["boat-3", at, "power-on"]
    rows: list[list[object]] = [
        [*start, PRESET, "heart-rate-high", 200],
        [*start, PRESET, "heart-rate-low", "many"],
        [*start, "*", "audio-volume", "off"],
    ]
    book: FilePayload = {
        "name": "round.xlsx",
        "mimeType": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        "buffer": a_workbook(HEADER.split(","), *rows),
    }

    # What it would change, what is wrong with it, and nothing stored.
    femi.goto(f"{address}/skerry/fleet/readings")
    choose(femi, book)
    expect(femi.get_by_text("must be a number")).to_be_visible()
    expect(femi.get_by_text("The audio is off: an alarm is seen only")).to_be_visible()
    look_at(femi, "What round.xlsx would change", javascript=javascript)

    # The good rows, once they are asked for.
    femi.get_by_label("good rows", exact=False).check()
    femi.locator("main form button").first.click()
    expect(femi.get_by_text("2 reports with 2 readings were taken in")).to_be_visible()

    # The same file changes nothing.
    femi.goto(f"{address}/skerry/fleet/readings")
    choose(femi, book)
    expect(femi.get_by_text("2 known already and left alone")).to_be_visible()
    look_at(femi, "What round.xlsx would change", javascript=javascript)


def test_it_is_told_how_much_of_a_file_is_sent(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    femi = sign_in(open_page(width=360), serve(seed), "femi")
    femi.goto(f"{femi.url.split('/skerry')[0]}/skerry/fleet/readings")
    femi.evaluate(
        """() => { window.told = []; new MutationObserver(() => window.told.push(
             document.querySelector("[data-meanwhile] span")?.textContent)).observe(
             document.querySelector("[data-meanwhile]"), { subtree: true, childList: true }); }"""
    )

    choose(femi, a_log("HR hi,200"))

    expect(femi.get_by_role("heading", name=MAPPER)).to_be_visible()
    assert "The file is sent and is being read." in femi.evaluate("window.told")


def choose(page: Page, file: FilePayload) -> None:
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_role("button", name="Look at it").click()


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_program_gets_its_token_and_loses_it(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
) -> None:
    address = serve(seed)
    ada = sign_in(open_page(width=width, javascript=javascript), address, "ada")
    ada.goto(f"{address}/skerry/tokens")
    look_at(ada, "Tokens of programs", javascript=javascript)

    ada.get_by_label("Name of the program").fill("Weighbridge")
    ada.get_by_label("send in readings of devices").check()
    ada.get_by_role("button", name="Give a token").click()
    look_at(ada, "Tokens of programs", javascript=javascript)
    token = ada.locator("code.token").inner_text()
    answer = sent(ada, address, token)
    assert (answer["status"], answer["new"]) == (200, 1)

    ada.goto(f"{address}/skerry/tokens")
    expect(ada.get_by_text("never", exact=True)).to_have_count(0)
    ada.get_by_role("button", name="Take back Weighbridge").click()
    expect(ada.get_by_text("it does nothing more")).to_be_visible()
    assert sent(ada, address, token)["status"] == 401


def sent(page: Page, address: str, token: str) -> dict[str, object]:
    """As a program does, without what the browser knows."""
    at = (wall_clock() - timedelta(hours=2)).isoformat()
    answer = page.request.post(
        f"{address}/api/v1/skerry/readings",
        headers={"Authorization": f"Bearer {token}", "Content-Type": "text/csv"},
        data=f"{HEADER}\nboat-3,{at},power-on,{PRESET},heart-rate-high,170\n",
    )
    return {"status": answer.status, **answer.json()}


def look_at(page: Page, heading: str, *, javascript: bool) -> None:
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    assert not overflows(page)
    if javascript:
        assert axe(page) == []
