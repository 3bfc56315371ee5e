"""Noise and silence: a revision's limits against recorded trends."""

import json
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.evidence import keep_evidence
from app.domain.evidence import Evidence, LineEvidence, Measured, SilentBeyond
from app.domain.noise_pictures import (
    NOISE_HEIGHT,
    SILENCE_HEIGHT,
    WIDTH,
    NoisePicture,
    noise_picture,
)
from app.domain.noise_readings import (
    Asked,
    NoiseReading,
    alarm_of_line,
    asked_of,
    label_of_line,
    number_words,
    place_of,
    read_curves,
)
from app.domain.permissions import Deed, check_may, may
from app.domain.revisions import StoredRevision
from app.exchange.paper_evidence import evidence_pdf
from app.lookups.evidence import (
    EvidenceAsked,
    answer_to,
    asked_evidence,
    printed_answers,
    trends_of,
)
from app.lookups.papers import policy_paper
from app.lookups.policy import open_revision
from app.lookups.policy_judged import judged
from app.web.notices import done
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/noise")


class NoiseQuestion(BaseModel):
    """Which line, and where on its curves; what is no number is no question. `of` is the line for
    which the place was typed: on another it means nothing."""

    category: Annotated[str, Field(max_length=100)] = ""
    alarm: Annotated[str, Field(max_length=100)] = ""
    of: Annotated[str, Field(max_length=100)] = ""
    limit: Annotated[str, Field(max_length=20)] = ""
    delay: Annotated[str, Field(max_length=20)] = ""
    bound: Annotated[int, Field(ge=0, le=100)] = 0


@dataclass(frozen=True)
class LineShown:
    """One line of the policy, drawn and read where it was asked about."""

    line: LineEvidence
    at: Asked
    picture: NoisePicture
    reading: NoiseReading

    @property
    def label(self) -> str:
        return label_of_line(self.line.alarm)

    @property
    def unit(self) -> str:
        return alarm_of_line(self.line.alarm).shown

    @property
    def bound(self) -> SilentBeyond | None:
        return self.line.silence[self.at.bound] if self.line.silence else None

    @property
    def against(self) -> NoiseReading | None:
        """Where the line of the other revision stands on the curves."""
        found = place_of(self.line, self.line.against)
        return None if found is None else self._read(found)

    def _read(self, found: Asked) -> NoiseReading:
        return read_curves(self.line, Asked(found.limit, found.delay, self.at.bound))

    @property
    def rows(self) -> list[NoiseReading]:
        """At every limit, for the delay and the bound shown."""
        return [
            read_curves(self.line, Asked(place, self.at.delay, self.at.bound))
            for place in range(len(self.line.limits))
        ]

    @property
    def curves(self) -> str:
        """All that a script reads from while a limit is dragged: nothing is asked meanwhile."""
        line = self.line
        told = {
            "hours": line.hours,
            "limits": line.limits,
            "delays": line.delays,
            "counts": line.counts,
            "seconds": line.seconds,
            "alarmed": line.alarmed,
            "silence": [
                {"seconds": one.seconds, "episodes": one.episodes, "patients": one.patients}
                for one in line.silence
            ],
            "noiseTop": self.picture.noise_top,
            "silenceTop": self.picture.silence_top,
        }
        return json.dumps(told, separators=(",", ":"))


@dataclass(frozen=True)
class NoisePage:
    base: str
    asked: EvidenceAsked
    may_replay: bool
    shown: LineShown | None
    desk: Desk
    width: float = WIDTH
    noise_height: float = NOISE_HEIGHT
    silence_height: float = SILENCE_HEIGHT

    @property
    def revision(self) -> StoredRevision:
        return self.asked.revision

    @property
    def found(self) -> Evidence | None:
        return None if self.asked.answer is None else self.asked.answer.evidence

    @property
    def synthetic(self) -> list[str]:
        return [one.synthetic for one in self.asked.recordings if one.synthetic]

    def label(self, alarm: str) -> str:
        return label_of_line(alarm)

    def unit(self, alarm: str) -> str:
        return alarm_of_line(alarm).shown

    def number(self, value: float) -> str:
        return number_words(value)

    def rate(self, found: Measured) -> str:
        return f"{found.per_hour:.2f}"

    def change(self, line: LineEvidence) -> str:
        """Of alarms an hour, with its interval; empty where one of the two has no such line."""
        if line.revision is None or line.against is None:
            return ""
        change = line.revision.per_hour - line.against.per_hour
        if line.change_low is None or line.change_high is None:
            return f"{change:+.2f}"
        if change == line.change_low == line.change_high == 0:
            return "none"
        told = f"{change:+.2f} ({line.change_low:+.2f} to {line.change_high:+.2f})"
        return told.replace("-", "−")

    def address(self, alarm: str) -> str:
        return f"{self.base}/noise?category={self.asked.category.key}&alarm={alarm}#curve"


@router.get("")
def noise_page(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    question: Annotated[NoiseQuestion, Query()],
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    asked = asked_evidence(
        tx, agency_id=person.agency_id, number=number, category=question.category or None, now=now
    )
    shown = _shown(asked, question)
    opened = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    desk = desk_of(opened, judged(opened).findings, person)
    page = NoisePage(base_of(person, number), asked, may(person, Deed.REPLAY), shown, desk)
    return render(request, "policy/noise.html", page)


def _number(typed: str) -> float | None:
    try:
        found = float(typed)
    except ValueError:
        return None
    return found if abs(found) < 1e6 else None


def _shown(asked: EvidenceAsked, question: NoiseQuestion) -> LineShown | None:
    if asked.answer is None or not asked.answer.evidence.lines:
        return None
    found = asked.answer.evidence
    line = found.line(question.alarm) or _loudest(found)
    at = _place(line, question)
    return LineShown(line, at, noise_picture(line, at), read_curves(line, at))


def _place(line: LineEvidence, question: NoiseQuestion) -> Asked:
    if question.of not in ("", line.alarm):
        return asked_of(line, None, None, None)
    return asked_of(line, _number(question.limit), _number(question.delay), question.bound)


def _loudest(found: Evidence) -> LineEvidence:
    return max(found.lines, key=lambda one: one.revision.count if one.revision else -1)


@router.post("")
def replay(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: Annotated[str, Form(max_length=100)] = "",
) -> Response:
    """Read, then reckoned without holding anybody up, then kept."""
    check_may(person, Deed.REPLAY)
    _replay_and_keep(request.app.state.database, person, number, category or None, now)
    address = f"{base_of(person, number)}/noise?category={category}"
    return done(address, "The recordings were replayed against this revision.")


def _replay_and_keep(
    database: Any, person: Member, number: int, category: str | None, now: Any
) -> None:
    with database.reading() as tx:
        asked = asked_evidence(
            tx, agency_id=person.agency_id, number=number, category=category, now=now
        )
        trends = trends_of(tx, asked)
    found = answer_to(asked, trends)
    with database.writing() as tx:
        keep_evidence(
            tx,
            found,
            revision_id=asked.revision.id,
            told_from=asked.fingerprints,
            by=person,
            now=now,
        )


@router.get("/annex.pdf")
def annex(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    """Of every category that was replayed as it stands."""
    check_may(person, Deed.SEE_POLICY)
    answers = printed_answers(tx, agency_id=person.agency_id, number=number, now=now)
    paper = policy_paper(tx, agency_id=person.agency_id, number=number, now=now)
    name = f"{person.agency}-revision-{number}-noise-and-silence.pdf"
    return Response(
        evidence_pdf(request.app.state.press, paper, answers),
        media_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
