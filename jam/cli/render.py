"""``jam render``: the companion plays along with files, as fast as the machine goes."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from jam.cli import values
from jam.listening.who import HeardPart
from jam.session.options import (
    CLOCK_CHOICES,
    FIRST_CHOICES,
    SPLIT_CHOICES,
    TURN_CHOICES,
    UNEVEN_CHOICES,
    RenderOptions,
)


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "render",
        help="play along with MIDI files, into a session folder",
        description="Play along with MIDI files, as fast as the machine goes, into a folder.",
    )
    _add_input(parser)
    _add_time(parser)
    _add_playing(parser)
    output = parser.add_argument_group("what comes out")
    output.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="where to write")
    output.add_argument("--wav", action="store_true", help="add the sound, as a WAV file")
    return parser


def run(args: argparse.Namespace) -> int:
    """Render what was asked for and tell what came out."""
    from jam.session.render import render

    print(render(options_of(args)).text)
    return 0


def options_of(args: argparse.Namespace) -> RenderOptions:
    """Return the options as the session takes them."""
    return RenderOptions(
        out=args.out,
        band=args.band,
        player=args.player,
        band_track=args.band_track,
        player_track=args.player_track,
        chart=args.chart,
        clock=args.clock,
        beats=args.beats,
        changes=args.changes,
        tempo_bpm=args.tempo,
        metre=args.metre,
        key=args.key,
        turns=args.turns,
        first=args.first,
        uneven=args.uneven,
        eager=args.eager,
        choruses=args.choruses,
        style=args.style,
        seed=args.seed,
        split=args.split,
        split_at=args.split_at,
        channels=tuple(
            (channel, part) for part, _ in _HEARD for channel in getattr(args, f"{part}_channel")
        ),
        with_band=args.with_band,
        wav=args.wav,
        config=args.config,
        home=args.home,
    )


_HEARD: tuple[tuple[HeardPart, str], ...] = (
    ("line", "the channel of the player's line: the others are the band's"),
    ("comping", "a channel on which the player comps"),
    ("band", "a channel of the band"),
)
"""The parts that can be told by channel, and what their options say."""


def _add_input(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("what is played")
    group.add_argument("--band", type=Path, metavar="FILE.mid", help="what the band plays")
    group.add_argument("--player", type=Path, metavar="FILE.mid", help="what the player plays")
    group.add_argument("--band-track", metavar="NAME|NUMBER", help="the track of the band's file")
    group.add_argument("--player-track", metavar="NAME|NUMBER", help="of the player's file")
    group.add_argument("--chart", metavar="NAME|FILE", help="the tune: see `jam charts`")
    group.add_argument("--changes", type=Path, metavar="FILE", help="lines of `seconds symbol`")
    group.add_argument("--key", metavar="KEY", help="as in `Eb major` or `C minor`")
    group.add_argument(
        "--split",
        choices=SPLIT_CHOICES,
        help="the player's line lies above (fixed) or below (reversed) the split (usual: as the"
        " configuration says)",
    )
    group.add_argument(
        "--split-at",
        type=values.pitch,
        metavar="NOTE",
        help="lowest note of the upper hand (usual: as the configuration says)",
    )
    for part, what in _HEARD:
        group.add_argument(
            f"--{part}-channel",
            type=values.channel,
            action="append",
            default=[],
            metavar="1-16",
            help=f"{what}, in either file; may be given again",
        )


def _add_time(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("time")
    group.add_argument(
        "--clock",
        choices=CLOCK_CHOICES,
        help="where the beat comes from: the tempo map of the file, --beats as the truth (given)"
        " or as taps, the notes alone, MIDI clock made from the file, or the companion's own"
        " (usual: given with --beats, else file with a MIDI file, else internal)",
    )
    group.add_argument("--beats", type=Path, metavar="FILE", help="lines of `seconds beat_in_bar`")
    group.add_argument(
        "--tempo", type=values.tempo_bpm, metavar="BPM", help="in quarter notes a minute"
    )
    group.add_argument("--metre", metavar="N/N", help="as in 4/4, 3/4, 12/8")


def _add_playing(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("how it is played")
    group.add_argument(
        "--turns",
        choices=TURN_CHOICES,
        default="4",
        help="bars to trade, a chorus each, free, or the companion alone (usual: 4)",
    )
    group.add_argument(
        "--first", choices=FIRST_CHOICES, default="player", help="who begins (usual: player)"
    )
    group.add_argument(
        "--uneven",
        choices=UNEVEN_CHOICES,
        default="swap",
        help="when turns do not divide the form: let roles swap, or restart at the top",
    )
    group.add_argument(
        "--eager", action="store_true", help="free: answer on the next off-beat, not the next seam"
    )
    group.add_argument("--choruses", type=values.count, metavar="N", help="end after so many")
    group.add_argument(
        "--no-band",
        dest="with_band",
        action="store_false",
        help="leave out the built-in rhythm section",
    )
    group.add_argument("--style", metavar="NAME|FILE", help="the reply style: see `jam styles`")
    group.add_argument("--seed", type=values.seed, default=1, metavar="N", help="(usual: 1)")
    group.add_argument("--config", type=Path, metavar="FILE", help="instead of the usual one")
