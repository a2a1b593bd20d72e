"""What does a chord symbol of the log mean? The audit's own reader and tables.

A `Sound` is a chord as the audit hears it, in pitch classes. Two levels of strength are kept
apart: ``strong`` holds the chord tones and the tensions on which the books agree, ``wide`` adds
what at least one school allows (the rest is a school's or a style's choice, so a note in ``wide``
breaks no rule, but is counted).

Sources, by way of reader notes and the chord-scale rule: a tension is available a major ninth
above a chord tone, and a note a minor ninth above one is avoided, altered dominants being the
standing exception (Nettles & Graf 1997, *The Chord Scale Theory and Jazz Harmony*; Levine 1995,
*The Jazz Theory Book*). Rows marked "common practice" follow neither word for word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

# family: (chord tones, tensions the books agree on, tensions some school allows), in semitones.
FAMILIES: dict[str, tuple[str, str, str]] = {
    "maj7": ("0 4 7 11", "2 6 9", ""),
    "6": ("0 4 7 9", "2 6 11", ""),
    "major": ("0 4 7", "2 6 9 11", ""),  # a bare triad takes the tensions of 6 and maj7
    "maj7#5": ("0 4 8 11", "2 6", ""),  # Lydian augmented; its 13 is a half step over #5
    "maj7b5": ("0 4 6 11", "2 9", ""),
    "7": ("0 4 7 10", "1 2 3 6 8 9", ""),
    "7alt": ("0 4 10", "1 3 6 8", ""),
    "7#5": ("0 4 8 10", "1 2 3 6", ""),  # whole tone: 9 #11; altered: b9 #9 #11
    "7b5": ("0 4 6 10", "1 2 3 8 9", ""),  # whole tone, Lydian dominant, altered
    "7sus4": ("0 5 7 10", "2 9", "4"),  # the 3rd over the 4th: Levine
    "7sus4b9": ("0 5 7 10", "1 9", "3"),  # Dorian b2; the Phrygian b3 a tone above its b9
    "m7": ("0 3 7 10", "2 5 9", ""),
    "m6": ("0 3 7 9", "2 5 11", ""),
    "mmaj7": ("0 3 7 11", "2 5 9", ""),
    "minor": ("0 3 7", "2 5 9", "10 11"),  # its 7th is the key's choice: common practice
    "m7#5": ("0 3 8 10", "2 5", ""),
    "m7b5": ("0 3 6 10", "5 8", "2"),  # 9: Levine; in the other school only if diatonic
    "dim7": ("0 3 6 9", "2 5 8 11", ""),
    "dim": ("0 3 6", "2 5 8", "9 10 11"),
    "dimmaj7": ("0 3 6 11", "2 5 8", "9"),
    "aug": ("0 4 8", "2 6", "10 11"),
    "sus4": ("0 5 7", "2 9", "4 10"),
    "sus2": ("0 2 7", "9", "4 5 6 10 11"),
    "5": ("0 7", "2", "3 4 5 6 9 10 11"),
}
# A mode written as a chord: its seventh chord, its tensions by rule, and what is wide.
MODES: dict[str, tuple[str, str, str]] = {
    "ionian": ("0 4 7 11", "2 9", ""),
    "dorian": FAMILIES["m7"],
    "phrygian": ("0 3 7 10", "5", "1"),  # as m7 only 11; as sus b9 it takes b9
    "lydian": FAMILIES["maj7"],
    "mixolydian": ("0 4 7 10", "2 9", "6"),
    "aeolian": ("0 3 7 10", "2 5", "8"),
    "locrian": ("0 3 6 10", "5 8", ""),
    "altered": FAMILIES["7alt"],
}
# Spellings of a quality, longest first, to family and the extensions they name.
QUALITIES: dict[str, tuple[str, str]] = {
    "maj7#5": ("maj7#5", ""),
    "maj7b5": ("maj7b5", ""),
    "maj13": ("maj7", "2 9"),
    "maj9": ("maj7", "2"),
    "maj7": ("maj7", ""),
    "maj": ("major", ""),
    "mmaj9": ("mmaj7", "2"),
    "mmaj7": ("mmaj7", ""),
    "mMaj13": ("mmaj7", "2 9"),
    "mMaj11": ("mmaj7", "2 5"),
    "mMaj9": ("mmaj7", "2"),
    "mMaj7": ("mmaj7", ""),
    "m(maj9)": ("mmaj7", "2"),
    "m(maj7)": ("mmaj7", ""),
    "m13": ("m7", "2 9"),
    "m11": ("m7", "2 5"),
    "m9b5": ("m7b5", "2"),
    "m11b5": ("m7b5", "5"),
    "m7b5": ("m7b5", ""),
    "m7#5": ("m7#5", ""),
    "m9": ("m7", "2"),
    "m7": ("m7", ""),
    "m6/9": ("m6", "2"),
    "m69": ("m6", "2"),
    "m6": ("m6", ""),
    "min": ("minor", ""),
    "m": ("minor", ""),
    "dimmaj7": ("dimmaj7", ""),
    "dim7": ("dim7", ""),
    "dim": ("dim", ""),
    "augmaj7": ("maj7#5", ""),
    "aug7": ("7#5", ""),
    "aug": ("aug", ""),
    "7alt": ("7alt", ""),
    "alt": ("7alt", ""),
    "13sus4": ("7sus4", "9"),
    "9sus4": ("7sus4", "2"),
    "7sus4": ("7sus4", ""),
    "7susb9": ("7sus4b9", ""),
    "13sus": ("7sus4", "9"),
    "9sus": ("7sus4", "2"),
    "7sus": ("7sus4", ""),
    "sus4": ("sus4", ""),
    "sus2": ("sus2", ""),
    "sus": ("sus4", ""),
    "7#5": ("7#5", ""),
    "7b5": ("7b5", ""),
    "6/9": ("6", "2"),
    "69": ("6", "2"),
    "6": ("6", ""),
    "13": ("7", "2 9"),
    "11": ("7", "2 5"),
    "9": ("7", "2"),
    "7": ("7", ""),
    "5": ("5", ""),
    "": ("major", ""),
}
# A named extension, and the ones of its kind that it rules out because they would rub.
EXTENSIONS: dict[str, tuple[int, str]] = {
    "b9": (1, "2"),
    "9": (2, ""),
    "#9": (3, "2"),
    "11": (5, ""),
    "#11": (6, ""),
    "b5": (6, "7"),
    "#5": (8, "7 9"),
    "b13": (8, "9"),
    "6": (9, ""),
    "13": (9, ""),
    "maj7": (11, ""),
    "7": (10, ""),
}
CHORD_TONES = ("b5", "#5", "6", "7")
EXTENSION = re.compile(r"[(,]*(?:add)?(maj7|[#b]?\d+)[,)]*")
SPELLINGS: tuple[frozenset[str], ...] = tuple(
    frozenset(row.split())
    for row in (
        "1 R 8", "b9 b2", "9 2", "b3 #9", "3", "11 4", "b5 #11 #4", "5",
        "#5 b13 b6", "6 13 bb7", "b7", "7 maj7",
    )
)  # fmt: skip
"""The names musicians give to each number of semitones above a root."""


class UnknownSymbolError(ValueError):
    """The audit cannot read this chord symbol."""


@dataclass(frozen=True)
class Sound:
    """A chord in pitch classes (0 = C). ``silent`` is N.C.: nothing is judged against it."""

    symbol: str
    root: int
    bass: int
    tones: frozenset[int]
    strong: frozenset[int]
    wide: frozenset[int]
    silent: bool = False

    def passes(self, pitch: int) -> bool:
        """Tell whether ``pitch`` is a strong degree by any school; anything is on N.C."""
        return self.silent or pitch % 12 in self.wide

    def contested(self, pitch: int) -> bool:
        """Tell whether ``pitch`` is strong by some schools only."""
        return not self.silent and pitch % 12 in self.wide - self.strong

    def semitones(self, pitch: int) -> int:
        """Return how many semitones above the root ``pitch`` lies, from 0 to 11."""
        return (pitch - self.root) % 12

    def guide(self, pitch: int) -> bool:
        """Tell whether ``pitch`` is the chord's 3rd or 7th (the bb7 of a diminished one too)."""
        step = self.semitones(pitch)
        seventh = (10, 11) if not self._diminished() else (9,)
        return pitch % 12 in self.tones and step in (3, 4, *seventh)

    def guides(self) -> int:
        """Return how many of the twelve pitch classes are its 3rd or 7th."""
        return sum(self.guide(pitch) for pitch in range(12))

    def same_as(self, other: Sound) -> bool:
        """Tell whether going to ``other`` is no change of chord."""
        return (self.root, self.bass, self.tones) == (other.root, other.bass, other.tones)

    def sounds_as(self, other: Sound) -> bool:
        """Tell whether ``other`` is the same chord with the same tensions."""
        return self.same_as(other) and (self.strong, self.wide) == (other.strong, other.wide)

    def _diminished(self) -> bool:
        return {(tone - self.root) % 12 for tone in self.tones} >= {0, 3, 6, 9}


def _steps(text: str) -> set[int]:
    return {int(step) for step in text.split()}


def _note(text: str) -> int:
    return (LETTERS[text[0]] + text.count("#") - text[1:].count("b")) % 12


@lru_cache(maxsize=4096)
def read(symbol: str) -> Sound:
    """Return the sound of a canonical symbol; raise `UnknownSymbolError` when it is none."""
    text = symbol.strip()
    if text.upper().rstrip(".") in ("N.C", "NC"):
        return Sound(symbol, 0, 0, frozenset(), frozenset(), frozenset(), silent=True)
    match = re.fullmatch(r"([A-G](?:#|b)?)(.*?)(?:/([A-G](?:##|bb|#|b)?))?", text)
    if match is None:
        raise UnknownSymbolError(symbol)
    root = _note(match[1])
    tones, strong, wide = _body(match[2], symbol)
    bass = root if match[3] is None else _note(match[3])
    heard = {(root + step) % 12 for step in tones} | {bass}
    agreed = heard | {(root + step) % 12 for step in strong}
    return Sound(
        symbol,
        root,
        bass,
        frozenset(heard),
        frozenset(agreed),
        frozenset(agreed | {(root + step) % 12 for step in wide}),
    )


def _body(text: str, symbol: str) -> tuple[set[int], set[int], set[int]]:
    """Return chord tones, agreed and further tensions, in semitones above the root."""
    if text.strip().lower() in MODES:
        tones, strong, wide = MODES[text.strip().lower()]
        return _steps(tones), _steps(strong), _steps(wide)
    quality = next((q for q in sorted(QUALITIES, key=len, reverse=True) if text.startswith(q)), "")
    family, named = QUALITIES[quality]
    rest = text[len(quality) :]
    extensions = EXTENSION.findall(rest)
    if EXTENSION.sub("", rest).strip("(), ") or not EXTENSIONS.keys() >= set(extensions):
        raise UnknownSymbolError(symbol)
    if family == "7sus4" and "b9" in extensions:
        family, extensions = "7sus4b9", [e for e in extensions if e != "b9"]
    return _extended(family, [int(step) for step in named.split()], extensions)


def _extended(
    family: str, named: list[int], extensions: list[str]
) -> tuple[set[int], set[int], set[int]]:
    """Return the family's notes with what the symbol names on top.

    An altered 5th is a chord tone, a 9th, 11th or 13th a tension. The last of ``named`` is the
    number in the symbol itself, which nothing rules out: C13(b9) has its 13 and no natural 9.
    """
    tones, strong, wide = (_steps(row) for row in FAMILIES[family])
    strong |= set(named)
    for extension in extensions:
        step, ruled_out = EXTENSIONS[extension]
        for notes in (strong, wide, tones if extension in CHORD_TONES else set[int]()):
            notes -= _steps(ruled_out)
        (tones if extension in CHORD_TONES else strong).add(step)
    strong |= set(named[-1:])
    return tones, strong - tones, wide - tones - strong
