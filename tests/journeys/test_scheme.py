"""Anna changes the frame of a policy: an edge, a split, a circumstance, an option."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.demo.profile import document
from tests.builders import a_draft
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in


def seed(tx: Session) -> None:
    without_models = {key: part for key, part in document(2).items() if key != "models"}
    a_draft(tx, document=without_models)


@pytest.mark.parametrize(
    ("width", "javascript", "theme"),
    [(1280, True, "day"), (360, True, "night"), (320, True, "day"), (1280, False, "day")],
)
def test_the_frame_of_a_policy_is_changed_beside_its_proof(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    javascript: bool,
    theme: str,
) -> None:
    address = serve(seed)
    anna = sign_in(open_page(width=width, javascript=javascript, theme=theme), address, "anna")

    def look() -> None:
        if javascript:
            assert axe(anna) == []
            assert not overflows(anna)

    # The bar leads from the corridor to the categories.
    anna.goto(f"{address}/skerry/policy/1")
    desk = anna.get_by_role("navigation", name="Revision 1")
    desk.get_by_role("link", name="Categories").click()
    proof = anna.get_by_role("region", name="Proof")
    expect(proof).to_contain_text("Every age from birth on reaches exactly one category.")
    look()

    # One end alone opens a gap, which is named and drawn; moving the edge closes it.
    infant = anna.get_by_role("region", name="Infant 28 d")
    infant.get_by_label("To (empty: open)").fill("11 mo")
    infant.get_by_label("To (empty: open)").press("Enter")
    expect(proof).to_contain_text("Ages 11 mo to 1 y reach no category, and so no limits.")
    expect(proof.locator("svg .fault.gap")).to_have_count(1)
    look()
    edge = anna.get_by_label("Edge between Infant and Young child")
    edge.fill("18 mo")
    edge.press("Enter")
    expect(proof).to_contain_text("No gap, no overlap.")

    # A split asks whether anything is copied, and keeps what was typed until it is told.
    child = anna.get_by_role("region", name="Child 5 y")
    child.locator("summary").press("Enter")
    child.get_by_label("Split at").fill("8 y")
    child.get_by_label("Key of the older part").fill("school")
    child.get_by_label("Label of the older part").fill("School child")
    child.get_by_role("button", name="Split Child").click()
    expect(anna.get_by_text("choose one")).to_be_visible()
    expect(child.get_by_label("Split at")).to_have_value("8 y")
    look()
    child.get_by_label("with a copy of every setting").check()
    child.get_by_role("button", name="Split Child").click()
    expect(anna.get_by_role("region", name="School child 8 y")).to_be_visible()
    look()

    # Somebody at an edge is tried.
    proof.get_by_role("link", name="Try an age").click()
    anna.get_by_label("Age, such as 5 mo").fill("5 mo")
    anna.get_by_label("Weight, kg").fill("3.5")
    anna.get_by_label("Weight, kg").press("Enter")
    expect(anna.get_by_role("status").last).to_contain_text("contradiction: a choice is needed")
    look()

    # A circumstance, and one alarm under it.
    desk.get_by_role("link", name="Circumstances").click()
    expect(anna.get_by_role("heading", level=1)).to_have_text("Circumstances")
    look()
    anna.get_by_label("A known one").select_option("paced")
    anna.get_by_role("checkbox", name="Adult").check()
    anna.get_by_role("button", name="Add", exact=True).click()
    expect(anna.get_by_role("heading", name="Paced")).to_be_visible()
    anna.get_by_role("link", name="Heart rate low").click()
    expect(anna.get_by_label("on", exact=True)).to_be_visible()
    look()
    anna.get_by_label("on", exact=True).check()
    anna.get_by_label("Alarm below, /min").fill("40")
    anna.get_by_role("button", name="Save").click()
    expect(anna.get_by_text("can fall from 45 to 40 /min unannounced")).to_be_visible()
    look()

    # An option that silences the device is told at once.
    desk.get_by_role("link", name="Options").click()
    expect(anna.get_by_role("heading", level=1)).to_have_text("Options")
    look()
    pause = anna.get_by_role("region", name="Longest pause")
    pause.get_by_label("permanent").check()
    pause.get_by_role("button", name="Save").click()
    expect(pause).to_contain_text("A pause may last for ever")
    look()
