"""``jam charts [NAME]``: the tunes there are, or the changes of one of them in plain text."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from jam.errors import JamError

if TYPE_CHECKING:
    from jam.charts.model import Chart


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "charts", help="list the tunes, or show the changes of one of them"
    )
    parser.add_argument("name", nargs="?", metavar="NAME|FILE", help="the tune to show")
    return parser


def run(args: argparse.Namespace) -> int:
    """List the charts, or show the one that is named."""
    from jam.session.resources import find_chart, list_charts, read_chart

    if args.name is not None:
        from jam.charts.text import chart_to_text

        print(chart_to_text(find_chart(args.name, args.home).value))
        return 0
    for entry in list_charts(args.home):
        mark = "" if entry.origin == "built in" else f" ({entry.origin})"
        try:
            line = _line(read_chart(entry.path))
        except JamError as error:
            line = f"cannot be used: {error}"
        print(f"{entry.name:<18} {line}{mark}")
    return 0


def _line(chart: Chart) -> str:
    bars = len(chart.chorus.bars)
    return (
        f"{chart.title}: {bars} bars in {chart.metre}, {chart.key.name},"
        f" {chart.tempo_bpm:g} bpm, {chart.feel}"
    )
