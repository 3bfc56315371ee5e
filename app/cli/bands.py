"""`marchstone bands`: the age bands and limits that cost least, beside those of a profile."""

from argparse import Namespace
from collections.abc import Iterator, Sequence

from app.cli.check import bounds_from, load_profile, references
from app.cli.output import FINE, print_json, rows
from app.domain.ages import Age
from app.domain.band_advice import (
    MOST_BANDS,
    BandAdvice,
    BandQuestion,
    Plan,
    band_advice,
    whole_months,
)
from app.domain.band_costs import Weights
from app.domain.band_search import Aim
from app.domain.band_words import limit_words, points
from app.domain.errors import Refused
from app.exchange.band_json import bands_json


def run(arguments: Namespace) -> int:
    profile = load_profile(arguments.profile) if arguments.profile else None
    advice = band_advice(
        _question(arguments),
        bounds=bounds_from(arguments.bounds),
        references=references(arguments.reference),
        models=() if profile is None else profile.models.values(),
        profile=profile,
    )
    if arguments.json:
        print_json(bands_json(advice))
    else:
        print("\n".join(_told(advice)))
    return FINE


def _question(arguments: Namespace) -> BandQuestion:
    try:
        until = whole_months(Age.parse(arguments.until))
    except ValueError as error:
        raise Refused.because(str(error), column="--until", value=arguments.until) from None
    if not 1 <= arguments.most <= MOST_BANDS:
        raise Refused.because(f"choose 1 to {MOST_BANDS}", column="--most", value=arguments.most)
    weights = Weights(arguments.danger, arguments.caution)
    return BandQuestion(arguments.vital, Aim(arguments.aim), weights, until, arguments.most)


def _told(advice: BandAdvice) -> Iterator[str]:
    asked, unit = advice.question, advice.vital.shown
    yield f"{advice.vital.label}, {advice.ages}: as small as can be, the {asked.aim} month"
    yield (
        f"a unit silent in danger costs {asked.weights.danger:g} points, in caution "
        f"{asked.weights.caution:g}; a point is 1 % of healthy people alarming on arrival"
    )
    yield ""
    head = ["bands", "worst", "mean", "on arrival", f"danger {unit}", f"caution {unit}", ""]
    yield rows([head, *_lines(advice)])
    yield ""
    yield f"{advice.source}\nouter bounds: {advice.bounds}"
    yield "Advice on a policy, no policy and no advice for a patient; local protocol rules."


def _lines(advice: BandAdvice) -> Iterator[Sequence[str]]:
    unit = advice.vital.shown
    if advice.today is not None:
        yield from _plan("today", advice.today, unit)
    before = None
    for count, plan in enumerate(advice.best, start=1):
        if plan == before:
            yield [str(count), "", "", "", "", "", "another band buys nothing"]
        else:
            yield from _plan(str(count), plan, unit)
        before = plan


def _plan(name: str, plan: Plan, unit: str) -> Iterator[Sequence[str]]:
    score = plan.score
    cells = [points(score.worst), points(score.mean), f"{score.arrival_worst:.1%}"]
    told = [f"{band.ages}: {limit_words(band, unit)}" for band in plan.bands]
    yield [name, *cells, f"{score.danger:g}", f"{score.caution:g}", told[0]]
    for line in told[1:]:
        yield ["", "", "", "", "", "", line]
