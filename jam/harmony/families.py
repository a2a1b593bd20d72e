"""Chord families: their chord tones, available tensions and degree names, as one table.

Intervals are semitones above the root. *Available tension* (hard level) is a note a whole step
above a chord tone and a half step above none (Nettles & Graf 1997, *The Chord Scale Theory and
Jazz Harmony*, as quoted by readers; so also the Berklee-style lists: minor 7: 9 11 13; major 7:
9 #11 13; half-diminished: 9 11 b13; diminished 7: 9 11 b13 maj7). Dominants are the standing
exception: b9 and b13 are allowed, with #9 (Levine 1995, *The Jazz Theory Book*: altered = b9 #9
#11 b13). Triads follow the rule, but a bare minor triad leaves its seventh to the key, so either
may be played (common practice).

A tension written in the symbol narrows the rest: see `narrowed`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "major",
    "minor",
    "dominant",
    "sus",
    "half_diminished",
    "diminished",
    "augmented",
    "open",
    "none",
]
"""What a chord does: a dominant resolves, a minor may be a ii, and so on."""

_NAMES = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")


def _named(**changes: str) -> tuple[str, ...]:
    """Return the degree names with some replaced: ``_named(s3="b3")``."""
    names = list(_NAMES)
    for place, name in changes.items():
        names[int(place[1:])] = name
    return tuple(names)


_MINOR = _named(s3="b3", s6="b5")
_HALF_DIMINISHED = _named(s3="b3", s6="b5")
_SIX = _named(s9="6")
_MINOR_SIX = _named(s3="b3", s6="b5", s9="6")
_DIMINISHED = _named(s3="b3", s6="b5", s9="bb7")
_SUS = _named(s5="4")
_SHARP_FIVE = _named(s8="#5")
_FLAT_FIVE = _named(s6="b5")


@dataclass(frozen=True, slots=True)
class Family:
    """One row of the table.

    ``suffix`` is the canonical end of the symbol; ``{n}`` stands for 7 or for the highest written
    extension (9, 11, 13). ``tones`` and ``tensions`` are semitones above the root, ``by_name`` are
    tensions that hold only where the symbol names them, ``degrees`` the name of each of the twelve
    semitones.
    """

    name: str
    suffix: str
    kind: Kind
    tones: frozenset[int]
    tensions: frozenset[int]
    by_name: frozenset[int]
    degrees: tuple[str, ...]


def _row(
    name: str,
    kind: Kind,
    tones: tuple[int, ...],
    tensions: tuple[int, ...],
    degrees: tuple[str, ...] = _NAMES,
    *,
    suffix: str | None = None,
    by_name: tuple[int, ...] = (),
) -> Family:
    return Family(
        name=name,
        suffix=name if suffix is None else suffix,
        kind=kind,
        tones=frozenset(tones),
        tensions=frozenset(tensions),
        by_name=frozenset(by_name),
        degrees=degrees,
    )


_ROWS = (
    # Major. #11 is colour everywhere (preferences make it weak on a tonic); natural 11 is avoided
    # (a half step over the 3rd) unless the symbol names it. On 6-chords the major seventh is a
    # melodic tension.
    _row("maj7", "major", (0, 4, 7, 11), (2, 6, 9), suffix="maj{n}", by_name=(5,)),
    _row("maj7#11", "major", (0, 4, 7, 11), (2, 6, 9), suffix="maj{n}#11"),
    _row("maj6", "major", (0, 4, 7, 9), (2, 6, 11), _SIX, suffix="6"),
    _row("maj", "major", (0, 4, 7), (2, 6, 9), _SIX, suffix="", by_name=(5,)),
    _row("maj7#5", "augmented", (0, 4, 8, 11), (2, 6), _SHARP_FIVE, suffix="maj{n}#5"),
    _row("maj7b5", "major", (0, 4, 6, 11), (2, 9), _FLAT_FIVE, suffix="maj{n}b5"),
    # Minor. 13 is weak on the ii of a ii-V (preference), b9 and b13 are avoid notes unless named.
    _row("m7", "minor", (0, 3, 7, 10), (2, 5, 9), _MINOR, suffix="m{n}", by_name=(1, 8)),
    _row("m6", "minor", (0, 3, 7, 9), (2, 5, 11), _MINOR_SIX),
    _row("mMaj7", "minor", (0, 3, 7, 11), (2, 5, 9), _MINOR, suffix="mMaj{n}", by_name=(8,)),
    _row("m", "minor", (0, 3, 7), (2, 5, 9, 10, 11), _MINOR_SIX, by_name=(8,)),
    _row("m7#5", "minor", (0, 3, 8, 10), (2, 5), _named(s3="b3", s8="#5"), suffix="m{n}#5"),
    # Dominant. The 5 is no chord tone of an altered dominant.
    _row("7", "dominant", (0, 4, 7, 10), (1, 2, 3, 6, 8, 9), suffix="{n}"),
    _row("7alt", "dominant", (0, 4, 10), (1, 3, 6, 8)),
    _row("7#5", "dominant", (0, 4, 8, 10), (1, 2, 3, 6), _SHARP_FIVE, suffix="{n}#5"),
    _row("7b5", "dominant", (0, 4, 6, 10), (1, 2, 3, 8, 9), _FLAT_FIVE, suffix="{n}b5"),
    # Suspended: the 4 is a chord tone, the 3rd is none (older books; Levine takes it above the 4).
    _row("7sus4", "sus", (0, 5, 7, 10), (2, 9), _SUS, suffix="{n}sus4", by_name=(8,)),
    _row("7susb9", "sus", (0, 5, 7, 10), (1, 9), _SUS, by_name=(8,)),
    _row("sus4", "open", (0, 5, 7), (2, 9), _named(s5="4", s9="6")),
    _row("sus2", "open", (0, 2, 7), (9,), _named(s2="2", s9="6")),
    _row("5", "open", (0, 7), (2, 9), _SIX),
    # Half-diminished and diminished. A dim triad stands for a diminished 7 in jazz (common
    # practice), so its diminished 7th counts as a tension.
    _row(
        "m7b5",
        "half_diminished",
        (0, 3, 6, 10),
        (2, 5, 8),
        _HALF_DIMINISHED,
        suffix="m{n}b5",
        by_name=(1,),
    ),
    _row("dim7", "diminished", (0, 3, 6, 9), (2, 5, 8, 11), _DIMINISHED),
    _row("dim", "diminished", (0, 3, 6), (2, 5, 8, 9, 11), _DIMINISHED),
    _row("aug", "augmented", (0, 4, 8), (2, 6), _SHARP_FIVE),
    # Modes, where the symbol names one: its seventh chord, and the tensions of the rule within the
    # mode. Phrygian and Locrian keep what makes them: Phrygian its b9 (an avoid note by the rule).
    _row("ionian", "major", (0, 4, 7, 11), (2, 9)),
    _row("dorian", "minor", (0, 3, 7, 10), (2, 5, 9), _MINOR),
    _row("phrygian", "minor", (0, 3, 7, 10), (1, 5), _MINOR),
    _row("lydian", "major", (0, 4, 7, 11), (2, 6, 9)),
    _row("mixolydian", "dominant", (0, 4, 7, 10), (2, 9)),
    _row("aeolian", "minor", (0, 3, 7, 10), (2, 5), _MINOR),
    _row("locrian", "half_diminished", (0, 3, 6, 10), (5, 8), _HALF_DIMINISHED),
    # No chord: nothing to clash with.
    _row("none", "none", (), tuple(range(12)), ("",) * 12, suffix="N.C."),
)

FAMILIES: dict[str, Family] = {family.name: family for family in _ROWS}
"""The families by name, in order of the table."""

MODES = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
"""Families that are named by a mode."""


NAMED: dict[str, frozenset[int]] = {
    "maj7#11": frozenset({6}),
    "7susb9": frozenset({1}),
    "7alt": FAMILIES["7alt"].tensions,
}
"""Tensions that the name of a family says, in semitones above the root."""


def narrowed(family: Family, written: frozenset[int]) -> frozenset[int]:
    """Return the tensions of a family left by what the symbol writes (semitones over the root).

    An altered 9 drops the natural 9 and the other way round; so do b13 and 13; natural 11 drops
    #11. #11 alone on a dominant means the Lydian dominant: no b9, #9, b13 (common practice).
    """
    left = set(family.tensions)
    if written & {1, 3}:
        left -= {2}
    if 2 in written:
        left -= {1, 3}
    if 9 in written:
        left -= {8}
    if 8 in written:
        left -= {9}
    if 5 in written:
        left -= {6}
    if family.kind == "dominant" and 6 in written and not written & {1, 3, 8}:
        left -= {1, 3, 8}
    return frozenset(left) | written


def settled(family: str, written: frozenset[int]) -> tuple[str, frozenset[int]]:
    """Return the family that a chord really is, once its written tensions are counted.

    A triad with a 6 is a 6-chord, a 7sus4 with b9 a 7susb9, a 6-chord with a major 7th a major 7,
    a dominant with altered ninths, #11 and b13 the altered dominant. An altered tension takes the
    place of the natural one (13b9: the number alone would write a natural 9 too). What the family
    says anyway is no longer written.
    """
    written -= FAMILIES[family].tones
    for altered, natural in ((_ALTERED_NINTHS, 2), (_SHARP_ELEVENTH, 5), (_FLAT_THIRTEENTH, 9)):
        if written & altered:
            written -= {natural}
    for before, needed, after, on_top in _MERGERS:
        if family == before and needed <= written:
            family, written = after, (written - needed) | on_top
    said = FAMILIES[family].tensions if family in MODES else NAMED.get(family, _NOTHING)
    return family, written - said


_ALTERED_NINTHS, _SHARP_ELEVENTH, _FLAT_THIRTEENTH = (
    frozenset(altered) for altered in ((1, 3), (6,), (8,))
)
_NOTHING: frozenset[int] = frozenset()
# (family, written tensions that change it, what it becomes, what is written then)
_MERGERS: tuple[tuple[str, frozenset[int], str, frozenset[int]], ...] = (
    ("maj", frozenset({9}), "maj6", _NOTHING),
    ("m", frozenset({9}), "m6", _NOTHING),
    ("m", frozenset({10}), "m7", _NOTHING),
    ("m", frozenset({11}), "mMaj7", _NOTHING),
    ("dim", frozenset({9}), "dim7", _NOTHING),
    ("maj6", frozenset({11}), "maj7", frozenset({9})),
    ("m6", frozenset({11}), "mMaj7", frozenset({9})),
    ("maj7", frozenset({6}), "maj7#11", _NOTHING),
    ("sus4", frozenset({1}), "7susb9", _NOTHING),
    ("7sus4", frozenset({1}), "7susb9", _NOTHING),
    # Altered ninth, #11 (or both ninths) and b13 together spell out the altered dominant, whose
    # natural fifth is gone (Levine's alt = b9 #9 #11 b13).
    ("7", frozenset({1, 6, 8}), "7alt", _NOTHING),
    ("7", frozenset({3, 6, 8}), "7alt", _NOTHING),
    ("7", frozenset({1, 3, 8}), "7alt", _NOTHING),
)


def family_of(intervals: frozenset[int]) -> tuple[str, frozenset[int]]:
    """Return the family with the most chord tones among ``intervals``, and what is written on top.

    Intervals are semitones above the root. Raises ValueError when no family fits.
    """
    for family in _BY_SIZE:
        on_top = intervals - family.tones
        if family.tones <= intervals and on_top <= family.tensions | family.by_name:
            return settled(family.name, on_top)
    raise ValueError(f"no family has the intervals {sorted(intervals)}")


_BY_SIZE = sorted(
    (row for row in _ROWS if row.name not in MODES and row.tones), key=lambda row: -len(row.tones)
)
