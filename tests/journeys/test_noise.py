"""A director adds a recording, replays a draft against it, and looks for a better limit."""

from collections.abc import Callable

import pytest
from playwright.sync_api import FilePayload, Page, Request, expect
from sqlmodel import Session

from app.domain.people import Role
from tests import recorded
from tests.builders import PRESET, a_document, a_draft, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.keyboard import Keyboard
from tests.journeys.readers import sign_in
from tests.recorded import a_recording, an_evidence

NOISE = f"/skerry/policy/2/noise?category={PRESET}&alarm=heart-rate-high"


def seed(tx: Session) -> None:
    """170 is signed; a draft asks for 185, where 180 is danger (AHA PALS)."""
    a_signed_revision(tx)
    a_draft(tx, document=a_document({"heart-rate-high": 185}))
    a_person(tx, Role.MEDICAL_DIRECTOR)


def seed_evidence(tx: Session) -> None:
    seed(tx)
    a_recording(tx)
    an_evidence(tx, 2)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (360, False, "day")],
)
def test_from_a_file_to_what_a_limit_costs(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")

    # A file that tells who somebody is is refused, and what was typed stays.
    page.goto(f"{address}/skerry/recordings")
    look_at(page, javascript=javascript)
    page.get_by_label("Name", exact=True).fill("Winter transfers")
    page.get_by_label("Category of its patients").select_option(PRESET)
    choose(page, recorded.as_csv(more="surname"))
    expect(page.get_by_text("this looks like a name: take the column out")).to_be_visible()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Winter transfers")
    choose(page, recorded.as_csv())
    expect(page.get_by_text("Recording 1 is kept: 2 patients")).to_be_visible()
    expect(page.get_by_role("row", name="Winter transfers")).to_be_visible()
    look_at(page, javascript=javascript)

    # The draft is replayed against it.
    page.goto(f"{address}/skerry/policy/2")
    page.get_by_role("link", name="Noise", exact=True).click()
    page.get_by_role("button", name="Replay Preschool").click()
    expect(page.get_by_role("heading", name="Preschool: what the limits cost")).to_be_visible()
    page.get_by_role("link", name="Heart rate high").click()
    expect(page.get_by_role("heading", name="Heart rate high, every limit")).to_be_visible()
    expect(page.get_by_text("At 185 /min after 0 s")).to_be_visible()
    look_at(page, javascript=javascript)

    # Another limit and delay, typed and shown.
    page.get_by_label("Limit, /min").fill("170")
    page.get_by_label("Delay", exact=True).select_option("15")
    page.get_by_role("button", name="Show").last.click()
    expect(page.get_by_text("At 170 /min after 15 s")).to_be_visible()
    expect(page.locator('[data-told="silent-seconds"]')).to_have_text("3")
    page.get_by_text("Every limit as a table").click()
    expect(page.get_by_role("rowheader", name="170", exact=True)).to_be_visible()
    look_at(page, javascript=javascript)


def choose(page: Page, text: str) -> None:
    file = FilePayload(name="trends.csv", mimeType="text/csv", buffer=text.encode())
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_role("button", name="Add it").click()


@pytest.mark.parametrize("width", [1280, 360])
def test_a_limit_is_dragged_and_nothing_is_asked_meanwhile(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int
) -> None:
    address = serve(seed_evidence)
    page = sign_in(open_page(width=width), address, "dana")
    page.goto(f"{address}{NOISE}")
    asked: list[Request] = []
    page.on("request", lambda request: asked.append(request))
    silent, count = (page.locator(f'[data-told="{one}"]') for one in ("silent-seconds", "count"))
    expect(silent).to_have_text("5")
    expect(count).to_have_text("0")

    # By mouse, from the draft's wall to the left end: all of it sounds.
    reach = page.locator("[data-reach]")
    reach.scroll_into_view_if_needed()
    box = reach.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 1, box["y"] + 60, steps=5)
    page.mouse.up()
    expect(silent).to_have_text("0")
    expect(count).to_have_text("2")  # each of the two patients, all the time
    expect(page.locator("[data-tried]")).to_have_attribute("transform", "translate(0 0)")

    # Typed: the curve is read at once, and the slider follows.
    page.get_by_label("Limit, /min").fill("176")
    expect(silent).to_have_text("0")
    expect(page.locator('[data-told="limit"]').first).to_have_text("176 /min")
    expect(page.locator('[data-told="seconds"]')).to_have_text("5")

    # Another delay lowers the curve where it stands.
    line = page.locator('[data-line="noise"]')
    before = line.get_attribute("points") or ""
    page.get_by_label("Delay", exact=True).select_option("15")
    expect(page.locator('[data-told="seconds"]')).to_have_text("0")
    expect(silent).to_have_text("5")
    expect(line).not_to_have_attribute("points", before)
    assert [one.url for one in asked if "/static/" not in one.url] == []  # its icon may be late
    assert axe(page) == []


def test_a_limit_is_found_by_keyboard_alone(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed_evidence)
    page = sign_in(open_page(), address, "dana")
    page.goto(f"{address}/skerry/policy/2")
    keyboard = Keyboard(page)

    keyboard.follow("Noise", exact=True)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Noise and silence")
    keyboard.follow("Heart rate high")
    slide = page.get_by_label("Slide the limit")
    keyboard.to(slide)
    keyboard.press(*["ArrowLeft"] * 4)
    expect(slide).to_have_attribute("aria-valuetext", "181 /min")
    keyboard.press("Home")
    expect(slide).to_have_attribute("aria-valuetext", "147 /min")
    keyboard.press("End")

    expect(page.locator('[data-told="silent-seconds"]')).to_have_text("5")
    keyboard.write("Limit, /min", "170")
    expect(page.locator('[data-told="silent-seconds"]')).to_have_text("0")
    keyboard.to(page.get_by_text("Every limit as a table"))
    keyboard.press("Enter")
    expect(page.get_by_role("rowheader", name="170", exact=True)).to_be_visible()


def seed_circumstance(tx: Session) -> None:
    document = a_document()
    low = {**document["settings"][PRESET]["spo2-low"], "limit": 84}
    high_up = {"key": "above-2500-m", "label": "Above 2500 m", "applies_to": [PRESET]}
    seed_evidence(tx)
    a_draft(
        tx, document={**document, "circumstances": [{**high_up, "settings": {"spo2-low": low}}]}
    )


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (360, False, "day")],
)
def test_a_circumstance_is_chosen_and_its_limits_replayed(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed_circumstance)
    page = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "dana")
    page.goto(f"{address}/skerry/policy/3/noise")

    page.get_by_label("Circumstance").select_option("above-2500-m")
    page.get_by_role("button", name="Show").first.click()
    expect(page.get_by_text("Revision 1 does not know the circumstance")).to_be_visible()
    look_at(page, javascript=javascript)
    page.get_by_role("button", name="Replay Preschool, Above 2500 m").click()

    cost = page.get_by_role("heading", name="Preschool, Above 2500 m: what the limits cost")
    expect(cost).to_be_visible()
    page.get_by_role("link", name="SpO₂ low").click()
    expect(page.get_by_text("At 84 % after 0 s")).to_be_visible()
    page.get_by_label("Limit, %").fill("90")
    page.get_by_role("button", name="Show").last.click()
    expect(page.get_by_text("At 90 % after 0 s")).to_be_visible()
    expect(cost).to_be_visible()  # still in the circumstance
    look_at(page, javascript=javascript)


def look_at(page: Page, *, javascript: bool) -> None:
    assert not javascript or axe(page) == []
    assert not javascript or not overflows(page)
