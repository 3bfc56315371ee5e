from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest

from app.domain.alarm_conditions import limits_of
from app.domain.errors import Refused
from app.domain.look_up import FIRST_SIGNS
from app.domain.papers import PolicyPaper
from app.domain.pocket_cards import CardSize
from app.domain.settings_of_alarms import On, show_number
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.paper_cards import cards_pdf
from app.exchange.profile_json import profile_from_document
from tests.policy_papers import BASE, signed_paper
from tests.printed import pages, press, qr_codes, text, widest


def printed(size: CardSize = CardSize.A6, *, model: str = "", **paper: Any) -> bytes:
    return cards_pdf(press(), signed_paper(**paper), size=size, model=model, base=BASE)


@pytest.mark.parametrize(
    ("size", "count"), [(CardSize.A6, 6), (CardSize.A5, 6), (CardSize.FOLDED, 2)]
)
def test_a_cover_and_a_card_for_each_category(size: CardSize, count: int) -> None:
    assert len(pages(printed(size))) == count


def test_every_limit_that_crews_see_first_is_on_its_card() -> None:
    paper = signed_paper()
    told = pages(printed())[1:]

    for category, card in zip(paper.profile.categories, told, strict=True):
        settings = paper.profile.of_category(category.key)
        assert category.label in card
        for sign in FIRST_SIGNS:
            for alarm in limits_of(sign):
                setting = settings.get(alarm.key)
                if isinstance(setting, On) and setting.limit is not None:
                    assert show_number(setting.limit) in card.split()


@pytest.mark.parametrize("size", list(CardSize))
def test_every_row_of_every_card_is_what_was_signed_cell_by_cell(size: CardSize) -> None:
    """Written here once more from the signed document, never by the words of the card."""
    document: Any = signed_paper().profile.document
    told = " ".join(pages(printed(size)))
    compared = 0

    for category in document["categories"]:
        settings = document["settings"][category["key"]]
        card = told.split(f"{category['label']} {category['from']} ")[-1]
        for sign in FIRST_SIGNS:
            low, high = (settings.get(alarm.key) for alarm in limits_of(sign))
            if {"on", "off", "not-fitted"} & {one["state"] for one in (low, high) if one}:
                vital = VITAL_SIGNS[sign]
                row = f"{vital.label} {vital.shown} {cell(low, 'below')} {cell(high, 'above')}"
                assert row in card.replace(" WAIVED", ""), (category["key"], row)
                compared += 1
    assert compared >= 20


def cell(written: dict[str, Any] | None, side: str) -> str:
    if written is None or written["state"] != "on":
        state = "no-policy" if written is None else written["state"]
        return {"off": "OFF", "no-policy": "no policy", "not-fitted": "not fitted"}[state]
    told = [f"{written['limit']:g} {written['priority']}"]
    if written["delay_s"]:
        told.append(f"after {written['delay_s']:g} s")
    if deep := written.get("deep"):
        delay = f"after {deep['delay_s']:g} s" if deep["delay_s"] else "at once"
        told.append(f"{side} {deep['limit']:g} {delay}")
    room = written.get("latitude") or {}
    if room.get("from") is not None:
        told.append(f"may be {room['from']:g}–{room['to']:g}")
    return ", ".join(told)


def test_off_is_told_in_capitals_and_a_waiver_beside_its_limit() -> None:
    child = next(page for page in pages(printed()) if page.startswith("Child"))

    assert "OFF" in child
    assert "150 WAIVED" in child


def test_every_card_says_what_it_is_and_when_it_ends() -> None:
    for page in pages(printed()):
        assert "no advice for a patient" in page
        assert "Revision 7" in page
        assert f"Check {signed_paper().revision.fingerprint[:8]}" in page
        assert "review by 2 Mar 2027" in page


def test_a_circumstance_names_what_it_changes() -> None:
    adult = next(page for page in pages(printed()) if page.startswith("Adult"))

    assert "Hypercapnia risk: SpO₂ below 86 %" in adult


def test_a_card_for_a_model_is_in_its_unit_and_names_the_preset() -> None:
    child = next(page for page in pages(printed(model="turnstone")) if page.startswith("Child"))

    assert "turnstone: choose CHILD" in child
    assert "4 kPa" in child


def in_kpa() -> PolicyPaper:
    """Carbon dioxide spoken of in mmHg, and signed in kPa: of a child, and in a circumstance."""
    paper = signed_paper()
    document: Any = deepcopy(paper.profile.document)
    low = document["settings"]["child"]["etco2-low"]
    document["settings"]["child"]["etco2-low"] = low | {
        "limit": 4.2,
        "unit": "kPa",
        "latitude": None,
    }
    document["circumstances"][0]["settings"]["etco2-low"] = low | {"limit": 1.4, "unit": "kPa"}
    document["options"] = {"etco2-unit": {"value": "mm[Hg]", "reason": "as our sheets"}}
    return replace(paper, profile=profile_from_document(document))


@pytest.mark.parametrize("size", list(CardSize))
def test_what_was_signed_in_kpa_is_told_in_the_agency_s_unit_first(size: CardSize) -> None:
    found = cards_pdf(press(), in_kpa(), size=size, model="", base=BASE)

    told = " ".join(pages(found)).replace("\N{NO-BREAK SPACE}", " ")
    assert "EtCO₂ mmHg 32 signed as 4.2 kPa," in told
    assert "EtCO₂ below 11 mmHg (signed as 1.4 kPa)" in told
    assert "4.2 kPa" not in told.replace("signed as 4.2 kPa", "")


@pytest.mark.parametrize("size", list(CardSize))
def test_the_code_leads_to_the_page_that_knows_whether_it_is_current(size: CardSize) -> None:
    address = f"{BASE}/skerry/confirm/{signed_paper().revision.fingerprint}"

    assert set(qr_codes(printed(size))) == {address}


@pytest.mark.parametrize(("size", "width"), [(CardSize.A6, 105), (CardSize.A5, 148)])
def test_nothing_runs_off_the_card(size: CardSize, width: int) -> None:
    assert widest(printed(size)) <= width - 4


def test_the_same_cards_are_the_same_bytes() -> None:
    assert printed() == printed()


def test_what_does_not_fit_is_refused_and_never_cut_off() -> None:
    paper = signed_paper()
    changes = {f"{'very ' * 30}long circumstance {n}": n for n in range(12)}

    [first] = paper.profile.circumstances
    crowded = tuple(replace(first, key=f"k{n}", label=label) for label, n in changes.items())
    wordy = replace(paper, profile=replace(paper.profile, circumstances=crowded))

    with pytest.raises(Refused, match="choose a larger card"):
        cards_pdf(press(), wordy, size=CardSize.A6, model="", base=BASE)


def test_a_hostile_name_is_only_printed() -> None:

    paper = signed_paper()
    agency = replace(paper.agency, name='#panic("x") *bold* \u202e')
    pdf = cards_pdf(press(), replace(paper, agency=agency), size=CardSize.A6, model="", base=BASE)

    assert '#panic("x") *bold* [U+202E]' in text(pdf)
