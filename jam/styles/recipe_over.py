"""What a recipe is meant for: one chord of a family, or a progression in roman numerals.

``minor 7, half-diminished`` names families (the first is the one it is shown over); ``ii:4 V7b9:4
i6:8`` is a progression with the beats of each chord, 4 where none are given. Capital numerals are
major or dominant, small ones minor; a sign before the numeral lowers or raises its root against
the major scale of the tonic (common practice). Without an ending, I and IV are major sevenths, V a
dominant seventh, other capitals major sevenths, small ones minor sevenths, vii a half-diminished.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import accumulate, zip_longest

from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord, chord_on
from jam.harmony.functions import function_of
from jam.harmony.keys import Key, parse_key
from jam.harmony.pitch import LETTERS, SymbolError, name_on_letter, pitch_class
from jam.harmony.symbols import parse_chord
from jam.styles.recipe_words import MAJOR, WordingError

FAMILIES: Mapping[str, tuple[str, frozenset[str]]] = {
    "any": ("maj7", frozenset()),
    "major": ("maj7", frozenset({"major"})),
    "minor": ("m7", frozenset({"minor"})),
    "minor 6": ("m6", frozenset({"minor"})),
    "dominant": ("7", frozenset({"dominant", "sus"})),
    "dominant to minor": ("7b9", frozenset({"dominant", "sus"})),
    "blues": ("7", frozenset({"dominant"})),
    "suspended": ("7sus4", frozenset({"sus"})),
    "half-diminished": ("m7b5", frozenset({"half_diminished"})),
    "diminished": ("dim7", frozenset({"diminished"})),
}
"""Families by name: the chord a recipe is shown over, and the kinds of chord it fits."""

_RESOLVED = {"dominant": "maj7", "dominant to minor": "m7"}
_ALIASES = {"major 7": "major", "minor 7": "minor", "dominant 7": "dominant"}
_NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
_NUMERAL = re.compile(
    r"([b#]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)([^\s:]*)(?::([0-9]+(?:\.[0-9]+)?))?"
)
_MOST_BEATS = 32.0


@dataclass(frozen=True, slots=True)
class OwnChord:
    """A chord of a progression: its root above the tonic and its letter, its ending, its beats."""

    semitones: int
    letter: int
    ending: str
    beats: float
    written: str


@dataclass(frozen=True, slots=True)
class Over:
    """What a recipe is meant for: families, or the chords of a progression (not both)."""

    families: tuple[str, ...] = ()
    chords: tuple[OwnChord, ...] = ()

    @property
    def count(self) -> int:
        """Return how many chords the recipe goes over."""
        return max(1, len(self.chords))

    @property
    def is_minor(self) -> bool:
        """Tell whether a progression is in a minor key."""
        return any(chord.semitones == 0 and chord.ending.startswith("m") for chord in self.chords)

    def fits(self, chord: Chord) -> bool:
        """Tell whether a chord is of the kind that the recipe (its first chord) is meant for."""
        if self.chords:
            return chord.kind == parse_chord("C" + self.chords[0].ending).kind
        kinds = [FAMILIES[family][1] for family in self.families]
        return any(not wanted or chord.kind in wanted for wanted in kinds)

    def occurs(self, chords: Sequence[Chord]) -> int:
        """Return how many of its chords, from the first on, ``chords`` are, set on any tonic.

        They must be of its kinds and move as its roots do; a suspended chord stands for a dominant.
        """
        for place, (own, chord) in enumerate(zip(self.chords, chords, strict=False)):
            wanted = parse_chord("C" + own.ending).kind
            kind = "dominant" if chord.kind == "sus" and wanted != "sus" else chord.kind
            moved = own.semitones - self.chords[0].semitones
            if kind != wanted or (chord.root - chords[0].root - moved) % 12:
                return place
        return min(len(self.chords), len(chords))

    def key(self, tonic: str) -> Key:
        """Return the key it is shown in when it is set on ``tonic``."""
        minor = self.is_minor or self.families[:1] in (("minor 6",), ("dominant to minor",))
        return parse_key(f"{tonic} minor" if minor else tonic)

    def changes(self, tonic: str, landing_beat: float | None = None) -> Changes:
        """Return its own chords set on ``tonic``, from beat 0 on.

        Only a progression is in a key; a chord of a family stands on its own. A dominant goes where
        it wants to on ``landing_beat``, if there is a landing.
        """
        placed = self._set(tonic)
        if not self.chords and landing_beat is not None and self.families[0] in _RESOLVED:
            target = chord_on((placed[0][1].root + 5) % 12, _RESOLVED[self.families[0]])
            placed.append((landing_beat, target))
        key = self.key(tonic) if self.chords else None
        blues = self.families[:1] == ("blues",)
        following = [chord for _, chord in placed[1:]]
        if self.families[:1] == ("dominant to minor",) and not following:
            following = [chord_on((placed[0][1].root + 5) % 12, "m7")]
        return Changes(
            [
                Change(beat, chord, function=function_of(chord, after, key, blues))
                for (beat, chord), after in zip_longest(placed, following[: len(placed)])
            ]
        )

    def _set(self, tonic: str) -> list[tuple[float, Chord]]:
        if not self.chords:
            return [(0.0, parse_chord(tonic + FAMILIES[self.families[0]][0]))]
        beats = accumulate((own.beats for own in self.chords[:-1]), initial=0.0)
        return [(beat, _set(own, tonic)) for beat, own in zip(beats, self.chords, strict=True)]


def read_over(text: str) -> Over:
    """Return what ``text`` says a recipe is meant for; raises WordingError."""
    words = " ".join(text.split())
    found = [_NUMERAL.fullmatch(word) for word in words.split(" ")]
    if any(found):
        return Over(
            (), tuple(_own(word, m) for word, m in zip(words.split(" "), found, strict=True))
        )
    families = tuple(_family(part.strip()) for part in words.split(","))
    return Over(families, ())


def _family(name: str) -> str:
    name = _ALIASES.get(name, name)
    if name in FAMILIES:
        return name
    near = get_close_matches(name.lower(), [*FAMILIES, *_ALIASES], n=1)
    mend = f"did you mean {near[0]!r}?" if near else f"use one of {', '.join(FAMILIES)}"
    raise WordingError(f"{name[:20]!r} is no family: {mend}, or numerals as in ii:4 V:4 I:8")


def _own(word: str, match: re.Match[str] | None) -> OwnChord:
    if match is None:
        raise WordingError(f"{word[:20]!r} is no numeral: write them as in ii:4 V7b9:4 i6:8")
    sign, numeral, written, beats = match.groups()
    letter = _NUMERALS.index(numeral.upper())
    semitones = (MAJOR[letter] + {"": 0, "b": -1, "#": 1}[sign]) % 12
    ending = written or _usual(numeral)
    if written and numeral.islower():
        ending = _minor(written)
    try:
        parse_chord("C" + ending)
    except SymbolError:
        mend = "write it as in ii7b5, V7b9, bII7, i6"
        raise WordingError(f"{word[:20]!r} is no chord: {mend}") from None
    length = float(beats or 4)
    if not 0.5 <= length <= _MOST_BEATS:
        lasts = f"lasts too {'long' if length > 1.0 else 'short'}"
        raise WordingError(f"{word[:20]!r} {lasts}: give it 0.5 to {_MOST_BEATS:g} beats")
    if length % 0.5:
        raise WordingError(f"{word[:20]!r} ends within a half beat: give it whole or half beats")
    return OwnChord(semitones, letter, ending, length, word)


def _minor(written: str) -> str:
    """Return the ending of a small numeral: ``i6`` is m6, ``imaj7`` mMaj7, ``viidim7`` dim7."""
    if written.startswith("maj"):
        return f"mM{written[1:]}"
    return written if re.match(r"m|dim|o", written) else f"m{written}"


def _usual(numeral: str) -> str:
    if numeral.islower():
        return "m7b5" if numeral == "vii" else "m7"
    return "7" if numeral == "V" else "maj7"


def _set(own: OwnChord, tonic: str) -> Chord:
    target = (pitch_class(tonic) + own.semitones) % 12
    name = name_on_letter(LETTERS.index(tonic[0]) + own.letter, target)
    if len(name) > 2:
        family = parse_chord("C" + own.ending).family
        name = chord_on(target, family).root_name
    return parse_chord(name + own.ending)
