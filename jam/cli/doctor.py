"""``jam doctor``: what works here, what is missing, what mends it."""

from __future__ import annotations

import argparse
from typing import Any

from jam import __version__


def add_to(subparsers: Any) -> argparse.ArgumentParser:
    """Add the command and return its parser."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        "doctor", help="tell what works here, what is missing and what mends it"
    )
    return parser


def run(args: argparse.Namespace) -> int:
    """Print the findings; always 0, since an answer is what was asked for."""
    from jam.session.health import examine

    print(f"jam {__version__}")
    findings = examine(args.home)
    for finding in findings:
        print(f"{'good' if finding.good else 'missing':<8} {finding.what}: {finding.found}")
        if finding.mend:
            print(f"{'':<8} mend: {finding.mend}")
    if all(finding.good for finding in findings):
        print("Everything works.")
    return 0
