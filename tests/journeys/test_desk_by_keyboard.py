"""The whole way of a policy, from an empty draft to a crew's phone, without a mouse."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from playwright.sync_api import Locator, Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.builders import PASSWORD, a_person, a_signed_revision
from tests.journeys.conftest import axe, overflows
from tests.journeys.keyboard import Keyboard

BANDS = {
    "Neonate": ("neonate", "0 d", "28 d"),
    "Infant": ("infant", "28 d", "1 y"),
    "Preschool": ("preschool", "1 y", "5 y"),
    "School": ("school", "5 y", "13 y"),
    "Adult": ("adult", "13 y", ""),
}
WAIVED = "New probes come in spring"
BEGINS = timedelta(minutes=20)
PLACE = """one => {
  const td = one.closest("td");
  return [td.parentNode.rowIndex, td.cellIndex];
}"""
ZONE = ZoneInfo("Europe/London")


class Clock:
    """Real time, until the test moves it on."""

    def __init__(self) -> None:
        self.ahead = timedelta()

    def __call__(self) -> datetime:
        return wall_clock() + self.ahead


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    for role in (Role.AUTHOR, Role.REVIEWER, Role.MEDICAL_DIRECTOR):
        a_person(tx, role)


def test_a_policy_is_written_reviewed_mended_waived_and_signed_by_keyboard_alone(
    serve: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    clock = Clock()
    address = serve(seed, clock=clock)

    # Anna begins with nothing, makes the categories, and copies what she wants to keep.
    anna = come(open_page(), address, "anna")
    begin_with_nothing(anna)
    make_categories(anna)
    for label in BANDS:
        copy_from_revision_1(anna, label)
    blanks = anna.page.locator("#blank-count")
    expect(blanks).to_contain_text("No blanks")

    # She types over two cells, and moves a wall.
    go_to_grid(anna)
    walk_to(anna, "preschool", "heart-rate-high")
    anna.type("185")
    anna.press("Enter")
    expect(value(anna, "preschool", "heart-rate-high")).to_contain_text("above 185 /min")
    walk_to(anna, "adult", "heart-rate-high")
    anna.type("135")
    anna.press("Tab")
    expect(value(anna, "adult", "heart-rate-high")).to_contain_text("above 135 /min")
    move_a_wall(anna)
    look_at(anna)
    anna.push("Submit for review")
    expect(anna.page.locator("#facts")).to_contain_text("in review")

    # Ravi comments on a cell and sends it back.
    ravi = come(open_page(), address, "ravi")
    open_revision(ravi)
    look_at(ravi)
    go_to_grid(ravi)
    walk_to(ravi, "adult", "heart-rate-high")
    ravi.press("Enter")
    expect(ravi.page.get_by_role("heading", level=1)).to_contain_text("Adult, Heart rate high")
    look_at(ravi)
    ravi.write("Comment on this cell", "Why 135?")
    ravi.push("Keep the comment")
    expect(ravi.page.get_by_text("Why 135?")).to_be_visible()
    ravi.follow("Back to the revision")
    expect(ravi.page.get_by_role("heading", level=1)).to_contain_text("revision 2")
    opened(ravi, "Send back")
    ravi.write("What must change", "See my comment")
    ravi.push("Send back")
    expect(ravi.page.locator("#facts")).to_contain_text("draft")

    # Anna reads why, mends the cell in its form, answers, and submits again.
    open_revision(anna)
    expect(anna.page.locator("#facts")).to_contain_text("See my comment")
    go_to_grid(anna)
    walk_to(anna, "adult", "heart-rate-high")
    anna.press("Enter")
    expect(anna.page.get_by_role("heading", name="Adult, Heart rate high")).to_be_focused()
    anna.write("Alarm above, /min", "130")
    anna.write("Reason", "as the others")
    anna.push("Save", exact=True)
    expect(value(anna, "adult", "heart-rate-high")).to_contain_text("above 130 /min")
    expect(value(anna, "adult", "heart-rate-high")).to_be_focused()
    anna.follow("1 comment on Adult, Heart rate high")
    expect(anna.page.get_by_role("heading", level=1)).to_contain_text("Adult, Heart rate high")
    opened(anna, "Resolve…")
    anna.write("What was done about it", "Now 130")
    anna.push("Resolve", exact=True)
    expect(anna.page.get_by_text("Now 130")).to_be_visible()
    anna.follow("Back to the revision")
    expect(anna.page.get_by_role("heading", level=1)).to_contain_text("revision 2")
    anna.push("Submit for review")
    expect(anna.page.locator("#facts")).to_contain_text("in review")

    # Ravi is content.
    open_revision(ravi)
    opened(ravi, "Record my review")
    ravi.write("Note (may stay empty)", "Read against the sources")
    ravi.push("Record my review")
    expect(ravi.page.locator("#facts")).to_contain_text("Reviewed byRavi")

    # Dana waives what is unsafe, and signs for a later time.
    dana = come(open_page(), address, "dana")
    open_revision(dana)
    expect(dana.page.locator("#findings li.unsafe")).to_contain_text("185 /min unannounced")
    opened(dana, "Waive…")
    dana.write("Why it is accepted", WAIVED)
    dana.day("Last day of the waiver", (clock() + timedelta(days=90)).date())
    dana.push("Waive this finding")
    expect(dana.page.locator("#findings .waived")).to_contain_text(WAIVED)
    look_at(dana)
    dana.follow("Sign…")
    expect(dana.page.get_by_role("heading", level=1)).to_have_text("Sign revision 2")
    look_at(dana)
    dana.write("Meaning of your signature", "Approved as our policy")
    dana.to(dana.page.get_by_label("at once"))
    dana.press("ArrowDown")
    later(dana, clock() + BEGINS)
    dana.day("To be reviewed by", (clock() + timedelta(days=365)).date())
    dana.write("Your password, once more", PASSWORD)
    dana.push("Sign revision 2")
    expect(dana.page.locator("#facts")).to_contain_text("“Approved as our policy”")
    expect(dana.page.locator("#facts")).to_contain_text("signed, from")
    look_at(dana)

    # A crew reads the old limit until the new one comes into force, then its waiver beside it.
    crew = Keyboard(open_page(width=360))
    heart = crew.page.locator("section", has_text="Heart rate").first
    look_up(crew, address)
    expect(heart).to_contain_text("above 170")
    clock.ahead = BEGINS + timedelta(minutes=1)
    look_up(crew, address)
    expect(heart).to_contain_text("above 185")
    expect(heart).to_contain_text(WAIVED)
    look_at(crew)


def come(page: Page, address: str, username: str) -> Keyboard:
    page.goto(f"{address}/sign-in?agency=skerry")
    person = Keyboard(page)
    person.write("Username", username)
    person.write("Password", PASSWORD)
    person.push("Sign in", exact=True)
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    return person


def begin_with_nothing(anna: Keyboard) -> None:
    anna.to(anna.page.get_by_role("navigation", name="Main").get_by_role("link", name="Policy"))
    anna.press("Enter")
    expect(anna.page.get_by_role("heading", name="Alarm-limit policy")).to_be_visible()
    look_at(anna)
    anna.choose("Begin with", "nothing")
    anna.push("Start a draft")
    expect(anna.page.get_by_role("heading", level=1)).to_contain_text("revision 2")
    look_at(anna)


def make_categories(anna: Keyboard) -> None:
    anna.follow("Categories", exact=True)
    expect(anna.page.get_by_role("heading", level=1)).to_have_text("Patient categories")
    first, *others = BANDS.items()
    anna.write("Label", first[0], within="#all-ages")
    anna.press("Tab", "Tab")
    anna.type(first[1][2])
    anna.press("Enter")
    expect(anna.page.get_by_role("heading", level=2, name="Neonate")).to_be_visible()
    opened(anna, "Split, new key, remove: Neonate")
    anna.write("New key", first[1][0], within="#all-ages")
    anna.press("Enter")
    expect(anna.page.locator(f"#{first[1][0]}")).to_be_visible()
    for label, (key, start, end) in others:
        anna.to(anna.page.locator("#new-key"))
        for typed in (key, label, start, end):
            anna.type(typed)
            anna.press("Tab")
        anna.press("Enter")
        expect(anna.page.locator(f"#{key}")).to_be_visible()
    look_at(anna)
    expect(anna.page.locator("#proof")).to_contain_text("No gap")


def copy_from_revision_1(anna: Keyboard, label: str) -> None:
    anna.page.goto(anna.page.url.split("/policy/2")[0] + "/policy/2/copy")
    anna.choose("Category", label)
    anna.choose("Revision", "revision 1")
    anna.push("Show what it would do")
    expect(anna.page).to_have_url(re.compile("[?&]revision=1(&|$)"))
    anna.choose("Its category", label)
    anna.push("Show what it would do")
    anna.push(f"into {label}")
    expect(anna.page.locator("#told")).to_contain_text(f"Copied into {label}.")


def move_a_wall(anna: Keyboard) -> None:
    wall = anna.page.get_by_role("slider", name="Adult, Heart rate low")
    notes = anna.page.locator("#notes")
    anna.to(notes.locator("summary"))
    anna.press("Enter")
    anna.follow("Age corridor")
    anna.to(anna.page.locator("#corridor .grip[data-side=low][tabindex='0']").first)
    anna.press(*["ArrowRight"] * 4)
    expect(wall).to_be_focused()
    anna.press("ArrowUp", "ArrowUp", "Enter")
    expect(anna.page.locator("#said")).to_contain_text("Saved")
    expect(value(anna, "adult", "heart-rate-low")).to_contain_text("below 52 /min")
    expect(wall).to_be_focused()
    expect(notes).to_have_attribute("open", "")


def go_to_grid(person: Keyboard) -> None:
    """From the top of the page, past the corridor and its walls."""
    person.follow("Every alarm")
    person.to(person.page.locator("table.grid a.value[tabindex='0']"), most=12)


def walk_to(person: Keyboard, category: str, alarm: str) -> None:
    """By arrows from whichever cell has the focus."""
    wanted = value(person, category, alarm)
    place = (
        """one => { const td = one.closest("td"); return [td.parentNode.rowIndex, td.cellIndex] }"""
    )
    at = person.page.locator("table.grid td a.value:focus").evaluate(place)
    to = wanted.evaluate(place)
    person.press(*_arrows(to[0] - at[0], "ArrowDown", "ArrowUp"))
    person.press(*_arrows(to[1] - at[1], "ArrowRight", "ArrowLeft"))
    expect(wanted).to_be_focused()


def _arrows(steps: int, ahead: str, back: str) -> list[str]:
    return [ahead if steps > 0 else back] * abs(steps)


def value(person: Keyboard, category: str, alarm: str) -> Locator:
    return person.page.locator(f"#cell-{category}-{alarm} a.value")


def open_revision(person: Keyboard) -> None:
    person.to(person.page.get_by_role("navigation", name="Main").get_by_role("link", name="Policy"))
    person.press("Enter")
    expect(person.page.get_by_role("heading", name="Alarm-limit policy")).to_be_visible()
    person.follow("Revision 2")
    expect(person.page.get_by_role("heading", level=1)).to_contain_text("revision 2")


def opened(person: Keyboard, name: str) -> None:
    person.to(person.page.locator("summary", has_text=name))
    person.press("Enter")


def later(dana: Keyboard, begins: datetime) -> None:
    """The field wants the agency's own time, which is the clock on the wall in winter."""
    local = begins.astimezone(ZONE)
    dana.to(dana.page.get_by_label("Later time (Europe/London)"))
    dana.type(f"{local:%m%d%Y}")
    dana.press("Tab")
    dana.type(f"{local:%I%M%p}")


def look_up(crew: Keyboard, address: str) -> None:
    crew.page.goto(f"{address}/skerry/limits")
    crew.write("Age", "3")
    crew.push("years")
    expect(crew.page.get_by_role("heading", level=1)).to_be_visible()


def look_at(person: Keyboard) -> None:
    assert axe(person.page) == []
    assert not overflows(person.page)
