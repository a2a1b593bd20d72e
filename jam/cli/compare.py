"""``jam compare STYLE STYLE``: two reply styles over the same calls, side by side."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "compare", help="play the same calls to two styles and tell what differs"
    )
    parser.add_argument("styles", nargs=2, metavar="STYLE", help="NAME or FILE: see `jam styles`")
    parser.add_argument("--chart", metavar="NAME|FILE", help="the tune: see `jam charts`")
    parser.add_argument("--seed", type=values.seed, default=1, metavar="N", help="(usual: 1)")
    parser.add_argument(
        "--choruses", type=values.count, metavar="N", help="how many (usual: 192 bars of them)"
    )
    parser.add_argument(
        "--wav", type=Path, metavar="FOLDER", help="keep both sessions there, with their sound"
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """Print the table."""
    from jam.session.compare import CompareOptions, compare

    one, other = args.styles
    print(
        compare(
            CompareOptions((one, other), args.chart, args.seed, args.choruses, args.wav, args.home)
        )
    )
    return 0
