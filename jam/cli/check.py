"""``jam check FILE...``: what each file is, and whether it is good."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from jam.errors import JamError


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "check", help="tell what files are and whether they are good"
    )
    parser.add_argument(
        "files",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="a style, chart or configuration, MusicXML, MIDI, or a text of beats or changes",
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """Check every file; 2 if any of them is bad."""
    from jam.session.check import check_file

    bad = 0
    for path in args.files:
        try:
            print(f"{path}: {check_file(path)}: good", flush=True)
        except JamError as error:
            print(error, file=sys.stderr, flush=True)
            bad += 1
    return 2 if bad else 0
