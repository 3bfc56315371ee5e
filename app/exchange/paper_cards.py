"""Pocket cards: what crews look up, for whoever has no phone, no signal or no light."""

from collections.abc import Iterator
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, limits_of
from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.errors import Refused
from app.domain.local_days import day_words
from app.domain.look_up import FIRST_EVENTS, FIRST_SIGNS
from app.domain.papers import PolicyPaper
from app.domain.patient_categories import PatientCategory
from app.domain.pocket_cards import CardSize, checksum
from app.domain.profiles import Circumstance, Profile, Settings
from app.domain.settings_of_alarms import NotFitted, Off, On, Setting, show_number
from app.domain.shown_units import settings_as_shown
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange import paper_words as words
from app.exchange.paper_policy import confirm_path
from app.exchange.paper_waivers import Waived
from app.exchange.qr_codes import qr_svg
from app.exchange.typst_papers import PaperFailed, Press

Data = dict[str, Any]
TEMPLATE = "cards"
_KEPT_TOGETHER = "\N{NO-BREAK SPACE}"
"""A number and its unit are never on two lines."""
TOO_MUCH = "does not fit its card"
_ALWAYS = ("asystole", "ventricular-fibrillation", "ventricular-tachycardia", "airway-apnoea")


def cards_pdf(press: Press, paper: PolicyPaper, *, size: CardSize, model: str, base: str) -> bytes:
    """Raises Refused where a category says more than fits in print that can be read."""
    pictures = {"qr": qr_svg(confirm_path(paper, base))}
    data = cards_data(paper, size=size, model=model)
    try:
        return press.set_paper(TEMPLATE, data, at=paper.printed_at, pictures=pictures)
    except PaperFailed as failed:
        if TOO_MUCH not in str(failed):
            raise
        reason = "this policy says too much for this size: choose a larger card"
        raise Refused.because(reason, column="size", value=size.words) from failed


def cards_data(paper: PolicyPaper, *, size: CardSize, model: str) -> Data:
    revision, profile = paper.revision, paper.profile
    on_model = {one.category.key: one for one in by_hand_on(profile, model)} if model else {}
    waived = Waived(paper.waivers)
    return {
        "title": f"Pocket cards, {profile.name}, revision {revision.number}",
        "agency": paper.agency.name,
        "size": size.value,
        "model": model,
        "revision": str(revision.number),
        "checksum": checksum(revision.fingerprint),
        "since": _since(paper),
        "expires": "" if revision.review_by is None else day_words(revision.review_by),
        "signed": [one.name for one in revision.signatures],
        "categories": [{"label": one.label, "ages": str(one.span)} for one in profile.categories],
        "cards": [_card(profile, one, waived, on_model.get(one.key)) for one in profile.categories],
    }


def _since(paper: PolicyPaper) -> str:
    begins = paper.revision.in_force_at
    return "" if begins is None else words.day(begins, paper.agency.time_zone)


def _card(
    profile: Profile, category: PatientCategory, waived: Waived, on_model: CategoryOnModel | None
) -> Data:
    signed = profile.of_category(category.key)
    settings = {**settings_as_shown(profile, category, signed), **_as_shown(on_model)}

    def cell(alarm: AlarmCondition) -> Data:
        mark = bool(waived.at([category.key], alarm.key))
        said = _cell(settings.get(alarm.key), alarm, signed.get(alarm.key))
        return {**said, "waived": mark}

    return {
        "label": category.label,
        "ages": str(category.span),
        "rows": [
            {
                "label": VITAL_SIGNS[key].label,
                "unit": VITAL_SIGNS[key].shown,
                "cells": [cell(alarm) for alarm in limits_of(key)],
            }
            for key in FIRST_SIGNS
            if any(_stated(settings.get(alarm.key)) for alarm in limits_of(key))
        ],
        "events": [
            {"label": alarm.label, **cell(alarm)}
            for alarm in map(ALARM_CONDITIONS.__getitem__, (*FIRST_EVENTS, *_ALWAYS))
            if _stated(settings.get(alarm.key))
        ],
        "circumstances": list(_circumstances(profile, category)),
        "by_hand": [] if on_model is None else list(_by_hand(on_model)),
        "preset": "" if on_model is None else on_model.preset or "",
        "on_model": on_model is not None,
    }


def _as_shown(on_model: CategoryOnModel | None) -> dict[str, Setting]:
    """What a model shows in another unit or on another step, as it shows it."""
    if on_model is None:
        return {}
    return {one.condition.key: one.to_set for one in (*on_model.rounded, *on_model.by_hand)}


def _stated(setting: Setting | None) -> bool:
    return isinstance(setting, On | Off | NotFitted)


def _cell(setting: Setting | None, alarm: AlarmCondition, signed: Setting | None) -> Data:
    """`says` is set large unless it is `plain`, `more` small beneath it."""
    if not isinstance(setting, On):
        says = words.state(setting) if setting else "no policy"
        return {"says": says, "more": "", "plain": not isinstance(setting, Off)}
    if setting.limit is None:
        says = "on"
    else:
        other = "" if setting.unit in (None, alarm.unit) else f" {words.unit(setting.unit, alarm)}"
        says = (show_number(setting.limit) + other).replace(" ", _KEPT_TOGETHER)
        if alarm.vital_sign is None:
            says = f"{words.side(alarm)} {says} {alarm.shown}"
    return {
        "says": says,
        "more": ", ".join([*_signed_as(setting, signed, alarm), *_more(setting, alarm)]),
        "plain": False,
    }


def _more(setting: On, alarm: AlarmCondition) -> Iterator[str]:
    if setting.priority is not None:
        yield setting.priority.value
    if setting.delay_s and alarm.shown != "s":
        yield f"after {show_number(setting.delay_s)} s"
    if setting.deep is not None:
        deep = setting.deep
        yield f"{words.side(alarm)} {show_number(deep.limit)} {words.delay(deep.delay_s)}"
    given = setting.latitude
    if given is not None and given.start is not None and given.end is not None:
        yield f"may be {show_number(given.start)}–{show_number(given.end)}"


def _signed_as(setting: On, signed: Setting | None, alarm: AlarmCondition) -> list[str]:
    """What was signed in another unit than it is told in."""
    if not isinstance(signed, On) or signed.limit is None:
        return []
    written = words.unit(signed.unit, alarm)
    if written == words.unit(setting.unit, alarm):
        return []
    return [f"signed as {show_number(signed.limit)} {written}".replace(" ", _KEPT_TOGETHER)]


def _circumstances(profile: Profile, category: PatientCategory) -> Iterator[Data]:
    for one in profile.circumstances:
        if category.key in one.applies_to:
            shown = settings_as_shown(profile, category, one.settings)
            yield {"label": one.label, "changes": list(_changes(shown, one))}


def _changes(shown: Settings, one: Circumstance) -> Iterator[str]:
    for key, alarm in ALARM_CONDITIONS.items():
        setting = shown.get(key)
        if isinstance(setting, On):
            sign = alarm.vital_sign.label if alarm.vital_sign else alarm.label
            told = words.limit(setting, alarm).replace(" ", _KEPT_TOGETHER)
            also = "".join(
                f" ({written})" for written in _signed_as(setting, one.settings[key], alarm)
            )
            yield f"{sign} {told}{also}"
        elif setting is not None:
            yield f"{alarm.label} {words.state(setting)}"


def _by_hand(on_model: CategoryOnModel) -> Iterator[str]:
    for one in on_model.by_hand:
        told = one.to_set
        wanted = words.limit(told, one.condition) if isinstance(told, On) else words.state(told)
        cannot = "" if one.settable else " (this model cannot be set so)"
        yield f"{one.condition.label}: {wanted}{cannot}"
