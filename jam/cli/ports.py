"""``jam ports``: what is plugged in, and which part of the companion takes it."""

from __future__ import annotations

import argparse
from typing import Any


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "ports", help="list MIDI ports and sound devices, and what takes which"
    )
    parser.add_argument("--setup", metavar="NAME", help="as this set-up has it")
    return parser


def run(args: argparse.Namespace) -> int:
    """Print what is there; 0 also when there is nothing, since that is the answer."""
    from jam.session.port_list import ports_text

    print(ports_text(args.home, args.setup))
    return 0
