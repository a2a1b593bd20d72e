"""``jam styles [NAME]``: the reply styles there are, or one of them in plain text."""

from __future__ import annotations

import argparse
from typing import Any

from jam.errors import JamError


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "styles", help="list the reply styles, or tell one of them"
    )
    parser.add_argument("name", nargs="?", metavar="NAME|FILE", help="the style to tell")
    return parser


def run(args: argparse.Namespace) -> int:
    """List the styles, or tell the one that is named."""
    from jam.session.resources import find_style, list_styles

    if args.name is not None:
        from jam.styles.text import describe

        print(describe(find_style(args.name, args.home).value))
        return 0
    for entry in list_styles(args.home):
        mark = "" if entry.origin == "built in" else f" ({entry.origin})"
        try:
            about = find_style(str(entry.path)).value.about
        except JamError as error:
            about = f"cannot be used: {error}"
        print(f"{entry.name:<12} {about}{mark}")
    return 0
