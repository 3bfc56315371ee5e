"""`marchstone sample`: how many devices to read."""

from argparse import Namespace

from app.cli.output import FINE, print_json
from app.domain.sampling import parse_share, plan_sample


def run(arguments: Namespace) -> int:
    tolerate = parse_share(arguments.tolerate, column="--tolerate")
    confidence = parse_share(arguments.confidence, column="--confidence")
    plan = plan_sample(arguments.fleet, tolerate, confidence)
    if arguments.json:
        print_json(
            {
                "fleet": plan.fleet,
                "tolerate": float(plan.tolerate),
                "confidence": float(plan.confidence),
                "sample": plan.sample,
                "miss_probability": float(plan.miss_probability),
            }
        )
    else:
        print(
            f"Read {plan.sample} of {plan.fleet} devices, drawn at random, and find none off:\n"
            f"then with {float(confidence):.4g} confidence fewer than {float(tolerate):.1%} are "
            f"off (chance to miss them: {float(plan.miss_probability):.4f})."
        )
    return FINE
