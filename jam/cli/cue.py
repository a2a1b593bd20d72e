"""``jam cue [NAME]``: which key, pedal, pad or button asks for what; learnt by pressing it."""

from __future__ import annotations

import argparse
from typing import Any


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "cue",
        help="let a key, pedal, pad or program button ask for something, by pressing it",
        description="Without a name: all cues, and what asks for each.",
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help='as in "take it"')
    parser.add_argument(
        "--from",
        dest="trigger",
        metavar="WHAT",
        help="say it instead of pressing it: control:66, note:A0, note:21 or program:3",
    )
    parser.add_argument(
        "--instead", action="store_true", help="take it from the cue that it asked for so far"
    )
    parser.add_argument("--forget", action="store_true", help="let nothing ask for it any more")
    parser.add_argument("--system", metavar="NAME", help="the MIDI system: ALSA, JACK ...")
    return parser


def run(args: argparse.Namespace) -> int:
    """List the cues, or let something else ask for one."""
    from jam.session import learn

    if args.name is None:
        for line in learn.list_cues(args.home):
            source = f"  ({line.source})" if line.source else ""
            print(f"{line.name:<12} {line.trigger or 'nothing':<12}{source}")
        return 0
    name = learn.cue_named(args.name)
    if args.forget:
        print(learn.forget(name, args.home))
        return 0
    trigger = learn.typed_trigger(args.trigger) if args.trigger is not None else _pressed(args)
    print(learn.assign(name, trigger, args.home, instead=args.instead))
    return 0


def _pressed(args: argparse.Namespace) -> Any:
    from jam.ports.systems import open_system
    from jam.session import learn
    from jam.session.resources import find_config

    wanted = args.system or find_config(home=args.home).value.ports.system
    system = open_system(wanted)
    try:
        return learn.wait_for_press(system, lambda line: print(line, flush=True))
    finally:
        system.close()
