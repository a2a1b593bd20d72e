"""``jam replay FOLDER``: perform a session's log again and compare the notes."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "replay", help="perform a session again from its log and compare the notes"
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="a session folder")
    return parser


def run(args: argparse.Namespace) -> int:
    """Perform it again; 1 when the notes differ."""
    from jam.session.replay import replay

    result = replay(args.folder)
    print(result.text)
    return 0 if result.same else 1
