"""The command that simulates and judges many approaches."""

from __future__ import annotations

import argparse
from pathlib import Path

from console.cli.arguments import Commands, at_least_one, not_negative, positive, say


def add(commands: Commands) -> None:
    """Add it to the command line."""
    campaign = commands.add_parser("campaign", help="simulate and judge many approaches")
    campaign.add_argument("--runs", type=at_least_one, default=1000, metavar="N")
    campaign.add_argument("--seed", type=not_negative, default=1, metavar="N")
    campaign.add_argument("--spread", type=Path, metavar="FILE", help="what varies")
    campaign.add_argument("--limits", type=Path, metavar="FILE")
    campaign.add_argument("--setup", type=Path, metavar="FILE")
    campaign.add_argument("--scenario", default="nominal", metavar="NAME or FILE")
    campaign.add_argument("--from", type=positive, dest="from_range", metavar="RANGE")
    campaign.add_argument("--jobs", type=at_least_one, default=1, metavar="N")
    campaign.add_argument("--scheduler", metavar="ADDRESS", help="a Dask scheduler to fly on")
    campaign.add_argument("--out", type=Path, metavar="DIR")
    campaign.add_argument("--keep", type=not_negative, default=8, metavar="N", help="worst passes")
    campaign.add_argument(
        "--chunk", type=at_least_one, default=100, metavar="N", help="runs in one unit of work"
    )
    campaign.add_argument(
        "--chance",
        type=_share,
        metavar="P",
        help="also give the hands-off range for it",
    )
    campaign.add_argument(
        "--below", type=_share, default=0.01, metavar="P", help="chance to be shown not exceeded"
    )
    campaign.add_argument("--confidence", type=_share, default=0.95, metavar="P")
    campaign.set_defaults(run=_campaign)


def _campaign(options: argparse.Namespace) -> int:
    from console.app.campaign import CampaignCall, run_campaign
    from console.bench.campaign_report import Wanted

    wanted = Wanted(below=options.below, confidence=options.confidence)
    if options.chance is not None:
        wanted = wanted.with_chance(options.chance)
    call = CampaignCall(
        runs=options.runs,
        seed=options.seed,
        spread=options.spread,
        limits=options.limits,
        setup=options.setup,
        scenario=options.scenario,
        from_range_m=options.from_range,
        jobs=options.jobs,
        scheduler=options.scheduler,
        out=options.out,
        keep=options.keep,
        chunk=options.chunk,
        wanted=wanted,
    )
    return run_campaign(call, say)


def _share(text: str) -> float:
    """Read a number between 0 and 1, both excluded."""
    value = positive(text)
    if value >= 1.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not between 0 and 1")
    return value
