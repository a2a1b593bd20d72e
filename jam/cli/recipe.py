"""``jam recipe [NAME]``: the phrase recipes there are, one of them in words, or as a drill."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values
from jam.errors import InputError, JamError

_REGISTERS = ("low", "middle", "high")


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "recipe", help="list the phrase recipes, explain one, or play it through keys and changes"
    )
    parser.add_argument("name", nargs="?", metavar="NAME|FILE", help="the recipe")
    parser.add_argument("--words", action="store_true", help="how a line may be worded")
    parser.add_argument("--chart", metavar="NAME|FILE", help="over the changes of a tune")
    parser.add_argument(
        "--over", metavar="CHORDS", help="over chords, a bar each, or with bar lines as in a chart"
    )
    parser.add_argument(
        "--keys", metavar="all|circle|C,F,Bb", help="through these keys, over its own chords if"
        " nothing else is named"
    )  # fmt: skip
    parser.add_argument(
        "--tempo", type=values.tempo_bpm, metavar="BPM", help="(usual: 120, or the chart's)"
    )
    parser.add_argument(
        "--register", choices=_REGISTERS, default="middle", help="two octaves each (usual: middle)"
    )
    parser.add_argument(
        "--varied",
        action="store_true",
        help="small changes each time; of several rounds the first is as written",
    )
    parser.add_argument("--seed", type=values.seed, default=1, metavar="N", help="(usual: 1)")
    parser.add_argument(
        "--out", type=Path, metavar="FOLDER", help="write MIDI and text there, not on the screen"
    )
    parser.add_argument("--wav", action="store_true", help="with its sound; needs --out")
    return parser


def run(args: argparse.Namespace) -> int:
    """List the recipes, tell the one that is named, or leave a drill in a folder."""
    from jam.session.drill import DrillOptions, drill
    from jam.session.drill_files import leave_drill
    from jam.session.drill_notes import notes_on
    from jam.session.drill_text import drill_text, recipe_text
    from jam.styles.recipe_meaning import wordings_text

    if args.words:
        print(wordings_text())
        return 0
    if args.name is None:
        _list(args)
        return 0
    if args.wav and args.out is None:
        raise InputError("--wav", "there is no folder for it", "Add --out FOLDER")
    options = DrillOptions(
        recipe=args.name,
        chart=args.chart,
        over=args.over,
        keys=args.keys,
        tempo_bpm=args.tempo,
        register=args.register,
        varied=args.varied,
        seed=args.seed,
        out=args.out,
        wav=args.wav,
        home=args.home,
    )
    if args.out is not None:
        print(leave_drill(options, args.out))
        return 0
    made = drill(options)
    print(f"{recipe_text(made.recipe)}\n\n{drill_text(made)}")
    said = notes_on(made)
    if said:
        print("", *said, sep="\n")
    return 0


def _list(args: argparse.Namespace) -> None:
    from jam.session.resources import find_recipe, list_recipes

    if args.out is not None or args.keys or args.over or args.chart:
        raise InputError("recipe", "no recipe is named", "Write `jam recipe NAME ...`")
    entries = list_recipes(args.home)
    width = max((len(entry.name) for entry in entries), default=0) + 1
    for entry in entries:
        mark = "" if entry.origin == "built in" else f" ({entry.origin})"
        try:
            recipe = find_recipe(str(entry.path), args.home).value
            about = f"{recipe.about} [{recipe.over}]"
        except JamError as error:
            about = f"cannot be used: {error}"
        print(f"{entry.name:<{width}} {about}{mark}")
