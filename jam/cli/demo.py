"""``jam demo``: hear the companion with nothing at hand.

A built-in stand-in player trades with the companion over an invented tune, in virtual time.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values
from jam.session.options import TURN_CHOICES, DemoOptions


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "demo", help="hear it: a stand-in player trades with the companion, into a folder"
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FOLDER",
        help="where to write (usual: jam-demo, or jam-demo-2 when that is there, and so on)",
    )
    parser.add_argument("--chart", metavar="NAME|FILE", help="the tune: see `jam charts`")
    parser.add_argument("--style", metavar="NAME|FILE", help="the reply style: see `jam styles`")
    parser.add_argument("--turns", choices=TURN_CHOICES, default="4", help="(usual: 4 bars each)")
    parser.add_argument(
        "--choruses", type=values.count, default=2, metavar="N", help="how many (usual: 2)"
    )
    parser.add_argument("--seed", type=values.seed, default=1, metavar="N", help="(usual: 1)")
    parser.add_argument("--no-wav", dest="wav", action="store_false", help="leave out the sound")
    return parser


def run(args: argparse.Namespace) -> int:
    """Play the demo and tell what came out."""
    from jam.session.demo import demo

    options = DemoOptions(
        out=args.out or _first_free(Path("jam-demo")),
        chart=args.chart,
        style=args.style,
        seed=args.seed,
        choruses=args.choruses,
        turns=args.turns,
        wav=args.wav,
        home=args.home,
    )
    print(demo(options).text)
    return 0


def _first_free(folder: Path) -> Path:
    free, number = folder, 2
    while free.exists():
        free, number = folder.with_name(f"{folder.name}-{number}"), number + 1
    return free
