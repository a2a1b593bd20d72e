"""``jam play``, and ``jam`` alone: the companion plays with you, live."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values
from jam.session.live_options import LIVE_CLOCKS, MELODY_CHOICES, LiveOptions
from jam.session.options import (
    FIRST_CHOICES,
    LIVE_TURN_CHOICES,
    SPLIT_CHOICES,
    UNEVEN_CHOICES,
)


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "play",
        help="play with the companion, live (so does `jam` alone)",
        description="Play with the companion, live. What you do not say is as the set-up has it,"
        " as it was last night, or as the configuration says.",
    )
    _add_music(parser)
    _add_turns(parser)
    _add_time(parser)
    _add_wires(parser)
    _add_rest(parser)
    return parser


def run(args: argparse.Namespace) -> int:
    """Play until somebody leaves. Ports and sound are opened while the rest is still imported."""
    from jam.session.live_plan import plan_live

    plan = plan_live(options_of(args))
    from jam.session.io_client import start_io

    client = start_io(plan.wishes)
    from jam.session.live import play

    last_words = play(plan, client)
    if last_words:
        print(last_words)
    return 0


def options_of(args: argparse.Namespace) -> LiveOptions:
    """Return the options as the session takes them."""
    return LiveOptions(
        chart=args.chart,
        style=args.style,
        tempo_bpm=args.tempo,
        turns=args.turns,
        first=args.first,
        uneven=args.uneven,
        eager=args.eager,
        clock=args.clock,
        setup=args.setup,
        melody=args.melody,
        player_in=args.player_in,
        band_in=args.band_in,
        clock_in=args.clock_in,
        cues_in=args.cues_in,
        out=args.out,
        system=args.system,
        seed=args.seed,
        split=args.split,
        split_at=args.split_at,
        metre=args.metre,
        key=args.key,
        choruses=args.choruses,
        with_band=args.with_band,
        click=args.click,
        turn_signal=args.turn_signal,
        hold=args.hold,
        view=args.view,
        out_folder=args.folder,
        anew=args.anew,
        config=args.config,
        home=args.home,
    )


def _add_music(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("what is played")
    group.add_argument(
        "--setup",
        metavar="NAME",
        help="one line, two hands, horn, band, taps, four hands, or yours",
    )
    group.add_argument(
        "--chart", metavar="NAME|FILE", help="the tune: see `jam charts`; none: by ear alone"
    )
    group.add_argument("--style", metavar="NAME|FILE", help="the reply style: see `jam styles`")
    group.add_argument(
        "--tempo", type=values.tempo_bpm, metavar="BPM", help="in quarter notes a minute"
    )
    group.add_argument("--key", metavar="KEY", help="as in `Eb major` or `C minor`")
    group.add_argument("--metre", metavar="N/N", help="as in 4/4, 3/4, 12/8, without a chart")
    group.add_argument(
        "--choruses", type=values.count, metavar="N", help="end after so many (usual: last time)"
    )
    group.add_argument("--melody", choices=MELODY_CHOICES, help="who plays the heads")
    _add_switch(group, "--band", "with_band", "the built-in rhythm section")


def _add_turns(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("whose turn it is")
    group.add_argument(
        "--turns",
        choices=LIVE_TURN_CHOICES,
        help="bars to trade, a chorus each, free, the companion alone (solo), silent until `take"
        " it` (lay out), or heads and solos on cue",
    )
    group.add_argument("--first", choices=FIRST_CHOICES, help="who begins")
    group.add_argument(
        "--uneven",
        choices=UNEVEN_CHOICES,
        default="swap",
        help="when turns do not divide the form: let roles swap, or restart at the top",
    )
    group.add_argument(
        "--eager", action="store_true", help="free: answer on the next off-beat, not the next seam"
    )
    _add_switch(group, "--turn-signal", "turn_signal", "two soft strokes before each turn")
    group.add_argument(
        "--split",
        choices=SPLIT_CHOICES,
        help="your line lies above (fixed) or below (reversed) the split; off: all of it is your"
        " line; comping: none of it",
    )
    group.add_argument(
        "--split-at", type=values.pitch, metavar="NOTE", help="lowest note of the upper hand"
    )


def _add_time(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("time")
    group.add_argument(
        "--clock",
        choices=LIVE_CLOCKS,
        help="the companion's own with a count-in (internal), a MIDI clock, or your taps",
    )
    holding = group.add_mutually_exclusive_group()
    holding.add_argument(
        "--hold", action="store_true", default=None, help="keep the tempo of the count-off"
    )
    holding.add_argument("--follow", dest="hold", action="store_false", help="follow what comes")
    _add_switch(group, "--click", "click", "a click all the way")


def _add_wires(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group(
        "ports",
        "A port's name or a part of it (`jam ports` lists them), auto, virtual (one of our own) or"
        " none.",
    )
    group.add_argument("--in", dest="player_in", metavar="PORT", help="what you play on")
    group.add_argument("--band-in", metavar="PORT", help="where the band is heard")
    group.add_argument("--clock-in", metavar="PORT", help="what sends MIDI clock")
    group.add_argument("--cues-in", metavar="PORT", help="pads or pedals for cues alone")
    group.add_argument("--out", metavar="PORT|sound", help="where the companion is heard")
    group.add_argument("--system", metavar="NAME", help="the MIDI system: ALSA, JACK ...")


def _add_rest(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("the rest")
    group.add_argument("--anew", action="store_true", help="take nothing over from last night")
    group.add_argument("--seed", type=values.seed, metavar="N", help="(usual: another each night)")
    group.add_argument(
        "--lines",
        dest="view",
        action="store_const",
        const="lines",
        default="auto",
        help="tell line by line without redrawing, as screen readers need it",
    )
    group.add_argument(
        "--folder", type=Path, metavar="FOLDER", help="where the session is kept (usual: your own)"
    )
    group.add_argument("--config", type=Path, metavar="FILE", help="instead of the usual one")


def _add_switch(group: Any, option: str, dest: str, what: str) -> None:
    """Add an option and its opposite; None if neither is given."""
    both = group.add_mutually_exclusive_group()
    both.add_argument(option, dest=dest, action="store_true", default=None, help=what)
    both.add_argument(
        option.replace("--", "--no-", 1), dest=dest, action="store_false", help=f"without: {what}"
    )
