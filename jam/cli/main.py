"""The command line: one module a command, each with ``add_to(subparsers)`` and ``run(args)``.

Exit codes: 0 done; 2 something handed to us cannot be used (one text on the error output, no
traceback); 130 stopped with Ctrl-C. Modules of commands import what they need inside ``run``, so
that ``jam --help`` stays quick. This file must be readable by old Pythons up to the check below.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 (the plain word for those who run it unpackaged)
    sys.exit(
        "jam needs Python 3.11 or newer, and this is Python %d.%d. "  # noqa: UP031
        "Make the environment with a newer one: python3.11 -m venv .venv" % sys.version_info[:2]
    )

import argparse
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from jam import __version__
from jam.cli import (
    charts,
    check,
    compare,
    cue,
    demo,
    doctor,
    idiom,
    play,
    ports,
    recipe,
    render,
    replay,
    styles,
)
from jam.errors import JamError

COMMANDS = (
    *(play, demo, render, replay, ports, cue, charts, styles, recipe, idiom, compare, check),
    doctor,
)

_ALONE = ("-h", "--help", "--version")
"""Options that are asked of the program, not of a command."""

USAGE = 2
PIPE_CLOSED = 141
"""Exit code when whoever read our output went away: 128 and the number of SIGPIPE."""


class Parser(argparse.ArgumentParser):
    """A parser that answers a mistake with one line, not with all the options there are."""

    def __init__(self, **options: Any) -> None:
        super().__init__(allow_abbrev=False, **options)

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and where to look, and leave."""
        mend = f"`{self.prog} --help` tells what there is"
        self.exit(USAGE, f"{self.prog}: {message.removeprefix('argument ')}. {mend}.\n")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; ``argv`` is without the program's name."""
    _speak_plainly()
    try:
        code = _run(argv)
        sys.stdout.flush()
        return code
    except JamError as error:
        print(error, file=sys.stderr)
        return USAGE
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    parser = Parser(
        prog="jam",
        description="A live jam companion: it listens to a phrase and answers it in time.",
        epilog="`jam` alone means `jam play`. `jam COMMAND --help` tells more."
        " Start quiet: turn the volume up from nothing.",
    )
    parser.add_argument("--version", action="version", version=f"jam {__version__}")
    _add_home(parser, default=None)
    subparsers = parser.add_subparsers(metavar="COMMAND", title="commands")
    for command in COMMANDS:
        subparser = command.add_to(subparsers)
        subparser.set_defaults(run=command.run)
        _add_home(subparser, default=argparse.SUPPRESS)
    return parser


def _run(argv: Sequence[str] | None) -> int:
    words = list(sys.argv[1:] if argv is None else argv)
    args = build_parser().parse_args(with_command(words))
    code: int = args.run(args)
    return code


def with_command(words: list[str]) -> list[str]:
    """Return the words with the command that they mean: without one they mean `jam play`."""
    at = 0
    while at < len(words) and words[at].split("=")[0] == "--home":
        at += 1 if "=" in words[at] else 2
    if at < len(words) and (words[at] in _ALONE or not words[at].startswith("-")):
        return words
    return [*words[:at], "play", *words[at:]]


def _add_home(parser: argparse.ArgumentParser, *, default: object) -> None:
    parser.add_argument(
        "--home",
        type=Path,
        metavar="FOLDER",
        default=default,
        help="your own folder of styles and charts (else $JAM_HOME, else the system's data folder)",
    )


def _speak_plainly() -> None:
    """Let no musical sign stop the output of a terminal that cannot show it."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
