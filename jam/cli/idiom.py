"""``jam idiom FILES... --name NAME``: learn how somebody goes on, or list the idioms there are."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values
from jam.errors import InputError


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "idiom",
        help="learn habits of playing from MIDI files or your own sessions, or list the idioms",
        description="Learn how somebody goes on, from MIDI files or session folders, for styles to"
        " name. Counts and hashes are kept, no notes. Without --name: list them, or tell one.",
    )
    parser.add_argument(
        "files",
        nargs="*",
        metavar="FILE|FOLDER",
        help="MIDI files of one line, session folders; without --name the name of an idiom",
    )
    parser.add_argument("--name", metavar="NAME", help="what a style calls it")
    parser.add_argument(
        "--out", type=Path, metavar="FILE.json", help="(usual: into your own folder)"
    )
    parser.add_argument(
        "--instead", action="store_true", help="take the place of one that has that name already"
    )
    midi = parser.add_argument_group("MIDI files")
    midi.add_argument(
        "--chart",
        metavar="NAME|FILE",
        help="the tune, chorus after chorus (usual: a marker in the file for each chord)",
    )
    midi.add_argument(
        "--from-bar",
        type=values.count,
        metavar="N",
        help="the bar of the file in which the chart begins (usual: 1)",
    )
    midi.add_argument("--track", metavar="NAME|NUMBER", help="the track with the line")
    midi.add_argument("--channel", type=values.channel, metavar="1-16", help="the line's channel")
    sessions = parser.add_argument_group("session folders")
    sessions.add_argument(
        "--companion", action="store_true", help="learn from the companion's half, not yours"
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """Learn and tell what was learnt, or tell what there is."""
    from jam.session.idiom_learn import LearnOptions, idiom_text, learn_idiom, list_text

    if args.name is None:
        _refuse_learning(args)
        told = [idiom_text(name, args.home) for name in args.files]
        print("\n\n".join(told) or list_text(args.home))
        return 0
    if not args.files:
        raise InputError(f"--name {args.name}", "there is nothing to learn from", "Name files")
    options = LearnOptions(
        sources=tuple(Path(file).expanduser() for file in args.files),
        name=args.name,
        out=args.out,
        instead=args.instead,
        chart=args.chart,
        from_bar=args.from_bar,
        track=args.track,
        channel=args.channel,
        companion=args.companion,
        home=args.home,
    )
    print(learn_idiom(options))
    return 0


def _refuse_learning(args: argparse.Namespace) -> None:
    """Raise InputError where learning was asked for without a name."""
    asked = {
        "--out": args.out, "--instead": args.instead, "--chart": args.chart,
        "--from-bar": args.from_bar, "--track": args.track, "--channel": args.channel is not None,
        "--companion": args.companion,
    }  # fmt: skip
    unnamed = [option for option, value in asked.items() if value]
    unnamed += [file for file in args.files if Path(file).is_dir() or _is_midi(file)]
    if unnamed:
        raise InputError(unnamed[0], "what is learnt has no name", "Add --name NAME")


def _is_midi(file: str) -> bool:
    return Path(file).suffix.lower() in (".mid", ".midi", ".smf")
