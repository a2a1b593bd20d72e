"""Figures made of chords: arpeggios into the tensions, upper triads, broken chords."""

from __future__ import annotations

from collections.abc import Iterator

from jam.players.soloist.figures_ground import (
    Ground,
    Line,
    Steps,
    fits,
    ladder,
    laid,
    onwards,
)

Triads = tuple[tuple[int, str], ...]

_MAJOR, _MINOR, _AUGMENTED = (0, 4, 7), (0, 3, 7), (0, 4, 8)
QUALITIES: dict[str, Steps] = {"maj": _MAJOR, "m": _MINOR, "aug": _AUGMENTED}

TRIADS: dict[tuple[str, str], Triads] = {
    # kind, function ("" where the function does not matter): root above the chord's, and quality.
    # Major: V gives 5 7 9, II 9 #11 13, vii 7 9 #11, iii 3 5 7 (left out: no tension).
    ("major", ""): ((7, "maj"), (2, "maj"), (11, "m")),
    # Minor: bVII gives b7 9 11, IV 11 13 1, v 5 b7 9, ii 9 11 13; bIII+ b3 5 7.
    ("minor", ""): ((10, "maj"), (5, "maj"), (7, "m"), (2, "m"), (3, "aug")),
    # Dominant to major: II gives 9 #11 13, VI 13 b9 3, #iv #11 13 b9, v 5 b7 9; to be heard as
    # altered: bVI b13 1 #9.
    ("dominant", "to_major"): ((2, "maj"), (9, "maj"), (6, "m"), (7, "m"), (8, "maj")),
    # To minor: bVI gives b13 1 #9, bV #11 b7 b9, bii b9 3 b13, biii #9 #11 b7, bIII #9 5 b7.
    ("dominant", "to_minor"): ((8, "maj"), (6, "maj"), (1, "m"), (3, "m"), (3, "maj")),
    ("dominant", "blues"): ((2, "maj"), (7, "m"), (3, "maj")),
    ("dominant", "none"): ((2, "maj"), (7, "m"), (9, "maj")),
    # Suspended: bVII gives b7 9 4, ii 9 4 13, IV 4 13 1.
    ("sus", ""): ((10, "maj"), (2, "m"), (5, "maj")),
    # Half-diminished: iv gives 11 b13 1, bVI b13 1 b3, bVII b7 9 11.
    ("half_diminished", ""): ((5, "m"), (8, "maj"), (10, "maj")),
    # Diminished: major triads a half step below the chord tones.
    ("diminished", ""): ((2, "maj"), (5, "maj"), (8, "maj"), (11, "maj")),
    # Augmented: the other augmented triad of the whole-tone scale.
    ("augmented", ""): ((2, "aug"),),
}
"""Upper-structure triads by kind of chord and function (Levine 1995, *The Jazz Theory Book*, and
common practice; from memory). A triad counts only where all of it is strong and liked."""

_ORDERS = (
    (0, 1, 2, 3, 2, 1), (3, 2, 1, 0, 1, 2), (0, 2, 1, 3, 2, 4), (4, 2, 3, 1, 2, 0),
    (0, 1, 2, 1, 2, 3), (2, 0, 1, 2, 3, 1), (1, 0, 2, 1, 3, 2),
)  # fmt: skip
_BROKEN = (
    (1, 0, 2, 1, 3, 2), (0, 1, -1, 0, -2, -1), (0, 2, 1, 3, 2, 4), (0, -2, -1, -3, -2, -4),
    (0, 2, 1, 0), (2, 0, 1, 2), (0, 2, 3, 1, 2), (3, 1, 2, 0, 1), (0, 3, 2, 1),
)  # fmt: skip


def arpeggio(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield the chord broken in thirds, up or down from any degree, led on by step.

    The half step below the first note may come before it (common practice).
    """
    stack = ground.stack
    for size in (3, 4, 5):
        for first in range(len(stack) - size + 1):
            part = stack[first : first + size]
            usual = (2.0 if part[-1] > 12 else 1.0) * (1.4 if size == 4 else 1.0)
            usual *= 0.6 if first == 0 else 1.0
            led = (part[0] - 1, *part) if size < 5 else part
            for line, likely in ((part, 1.0), (part[::-1], 0.8), (led, 0.5)):
                for whole, more in onwards(ground, line, count):
                    if fits(whole, ground, count):
                        yield Line(whole, "", usual * likely * more)


def upper_triad(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield triads of tensions above the chord, in every position."""
    for root, quality in triads_of(ground):
        notes = frozenset((root + s) % 12 for s in QUALITIES[quality])
        rungs = ladder(notes)
        for order in _ORDERS:
            for start in sorted(notes):
                line = laid(rungs, start, order[: min(count, len(order))])
                for whole, more in onwards(ground, line, count):
                    if fits(whole, ground, count):
                        yield Line(whole, "upper triad", more, (root, quality))


def triads_of(ground: Ground) -> Triads:
    """Return the upper triads whose notes are all liked there, one tension at least among them."""
    found = TRIADS.get((ground.kind, ground.function)) or TRIADS.get((ground.kind, ""), ())
    kept = []
    for root, quality in found:
        notes = {(root + s) % 12 for s in QUALITIES[quality]}
        if notes <= ground.liked and notes - ground.tones:
            kept.append((root, quality))
    return tuple(kept)


def broken_chord(ground: Ground, count: int, _off: bool) -> Iterator[Line]:
    """Yield chord tones in zigzag and in inversions, on the close chord and on its thirds."""
    close = ladder(ground.tones)
    for order in _BROKEN:
        cut = order[: min(count, len(order))]
        found = [laid(close, start, cut) for start in sorted(ground.tones)]
        rungs = ground.stack
        for base in range(-min(cut), len(rungs) - max(cut)):
            found.append(tuple(rungs[base + place] for place in cut))
        for line in found:
            for whole, more in onwards(ground, line, count):
                if fits(whole, ground, count):
                    yield Line(whole, "broken chord", more)
