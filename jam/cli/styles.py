"""``jam styles [NAME]``: the reply styles there are, or one of them in words or in full."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.errors import InputError, JamError


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "styles", help="list the reply styles, or explain one of them"
    )
    parser.add_argument("name", nargs="?", metavar="NAME|FILE", help="the style to explain")
    form = parser.add_mutually_exclusive_group()
    form.add_argument(
        "--yaml", action="store_true", help="all it says, as a style file that stands on its own"
    )
    form.add_argument(
        "--schema", action="store_true", help="the JSON Schema of style files, for editors"
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """List the styles, tell the one that is named, or print the schema."""
    if args.schema:
        from jam.styles.schema import schema_text

        print(schema_text())
    elif args.name is not None:
        print(_told(args.name, args.home, whole=args.yaml))
    elif args.yaml:
        raise InputError("--yaml", "no style is named", "Write `jam styles NAME --yaml`")
    else:
        _list(args.home)
    return 0


def _told(name: str, home: Path | None, *, whole: bool) -> str:
    from jam.session.idioms import find_usable_style
    from jam.styles.text import describe
    from jam.styles.words import explain

    style = find_usable_style(name, home).value
    return describe(style) if whole else explain(style)


def _list(home: Path | None) -> None:
    from jam.session.idioms import find_usable_style
    from jam.session.resources import list_styles

    entries = list_styles(home)
    width = max((len(entry.name) for entry in entries), default=0) + 1
    for entry in entries:
        mark = "" if entry.origin == "built in" else f" ({entry.origin})"
        try:
            about = find_usable_style(str(entry.path), home).value.about
        except JamError as error:
            about = f"cannot be used: {error}"
        print(f"{entry.name:<{width}} {about}{mark}")
