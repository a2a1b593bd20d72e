"""Values of options, checked as they are read: argparse names the option in the error."""

from __future__ import annotations

import argparse
from math import isfinite

from jam.session.notes import pitch_of

LOWEST_BPM, HIGHEST_BPM = 30.0, 400.0
"""Tempi that can be asked for, in quarter notes a minute."""


def tempo_bpm(text: str) -> float:
    """Return a tempo in quarter notes a minute."""
    bpm = _number(text)
    if not LOWEST_BPM <= bpm <= HIGHEST_BPM:
        raise argparse.ArgumentTypeError(
            f"{text} is no tempo: take {LOWEST_BPM:g} to {HIGHEST_BPM:g} quarter notes a minute"
        )
    return bpm


def pitch(text: str) -> int:
    """Return the MIDI number of a note, given as its name or as the number."""
    try:
        return pitch_of(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def channel(text: str) -> int:
    """Return a MIDI channel, counted from 1 as musicians do, as 0 to 15."""
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 16):
        raise argparse.ArgumentTypeError(f"{text!r} is no MIDI channel: take 1 to 16")
    return int(text) - 1


def count(text: str) -> int:
    """Return a whole number from 1 on."""
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 1000):
        raise argparse.ArgumentTypeError(
            f"{text!r} will not do: take a whole number from 1 to 1000"
        )
    return int(text)


def seed(text: str) -> int:
    """Return a seed: a whole number from 0 on."""
    if not (text.isascii() and text.isdigit() and len(text) <= 18):
        raise argparse.ArgumentTypeError(f"{text!r} is no seed: take a whole number from 0 on")
    return int(text)


def _number(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number") from None
    if not isfinite(number):
        raise argparse.ArgumentTypeError(f"{text!r} is no number")
    return number
