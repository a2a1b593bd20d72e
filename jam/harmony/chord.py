"""A chord as it stands in a chart or is heard: root, bass, family, chord tones and tensions.

Everything is worked out when the chord is made; asking it costs a look-up. Pitches are MIDI
numbers, pitch classes 0..11 from C. Roles refer to the chord as named, its bass included: the
note under the slash is a chord tone.

No chord (``N.C.``) has no chord tones and calls every pitch strong: there is nothing to clash with.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from jam.harmony.families import FAMILIES, NAMED, Family, Kind, narrowed, settled
from jam.harmony.pitch import pitch_class


@dataclass(frozen=True, slots=True)
class Chord:
    """One chord; make it with `parse_chord`, `make_chord` or `chord_on`.

    ``symbol`` is canonical ASCII, ``root`` and ``bass`` are pitch classes, ``family`` names a row
    of `FAMILIES`; ``tones``, ``tensions`` and ``written`` (tensions that the symbol names) are
    pitch classes, not intervals. ``strong`` is tones and tensions together.
    """

    symbol: str
    root: int
    bass: int
    family: str
    tones: frozenset[int]
    tensions: frozenset[int]
    root_name: str
    bass_name: str = ""
    written: frozenset[int] = frozenset()
    strong: frozenset[int] = field(init=False, repr=False, compare=False)
    _degrees: tuple[str, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "strong", self.tones | self.tensions)
        object.__setattr__(self, "_degrees", FAMILIES[self.family].degrees)

    def __hash__(self) -> int:
        # Equal chords have equal symbols; the sets need not be hashed at every look-up.
        return hash(self.symbol)

    @property
    def kind(self) -> Kind:
        """Return what the chord does: "dominant", "minor" ..."""
        return FAMILIES[self.family].kind

    @property
    def is_none(self) -> bool:
        """Tell whether this is N.C."""
        return self.family == "none"

    def is_strong(self, pitch: int) -> bool:
        """Tell whether ``pitch`` is a chord tone or an available tension."""
        return pitch % 12 in self.strong

    def degree(self, pitch: int) -> str:
        """Name ``pitch`` as a degree of the chord: "b3", "9", "#11"; empty on N.C."""
        return self._degrees[(pitch - self.root) % 12]

    def same_as(self, other: Chord) -> bool:
        """Tell whether root, family, bass and chord tones are equal, however they are written."""
        return (self.root, self.family, self.bass, self.tones) == (
            other.root,
            other.family,
            other.bass,
            other.tones,
        )

    def __str__(self) -> str:
        return self.symbol


@lru_cache(maxsize=4096)
def make_chord(
    root_name: str,
    family: str,
    written: frozenset[int] = frozenset(),
    bass_name: str = "",
) -> Chord:
    """Make a chord of a family, with ``written`` tensions in semitones above the root.

    Raises ValueError when a written tension does not fit the family.
    """
    family, written = settled(family, written)
    row = FAMILIES[family]
    if row.kind == "none":
        return NO_CHORD
    if written - row.tensions - row.by_name:
        raise ValueError(f"{sorted(written)} does not fit {family}")
    root = pitch_class(root_name)
    bass = pitch_class(bass_name) if bass_name else root
    slash = f"/{bass_name}" if bass != root else ""
    tones = frozenset((root + tone) % 12 for tone in row.tones) | {bass}
    tensions = frozenset((root + tension) % 12 for tension in narrowed(row, written))
    return Chord(
        symbol=root_name + suffix_of(row, written) + slash,
        root=root,
        bass=bass,
        family=family,
        tones=tones,
        tensions=tensions - tones,
        root_name=root_name,
        bass_name=bass_name if slash else "",
        written=frozenset((root + step) % 12 for step in written | NAMED.get(family, frozenset())),
    )


_MINOR_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
_MAJOR_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def chord_on(root: int, family: str, bass: int | None = None) -> Chord:
    """Make a chord on a pitch class, with the usual name of its root (common practice).

    For what is heard rather than written: Db7 but C#m7.
    """
    minor = FAMILIES[family].kind in ("minor", "half_diminished", "diminished")
    names = _MINOR_NAMES if minor else _MAJOR_NAMES
    bass_name = "" if bass is None else names[bass % 12]
    return make_chord(names[root % 12], family, bass_name=bass_name)


_EXTENSIONS = {
    # What a plain number stands for besides the seventh (common practice; pychord and music21 give
    # the 13 of a dominant its natural 11 as well, which jazz practice drops).
    "minor": (("13", {2, 5, 9}), ("11", {2, 5}), ("9", {2})),
    "half_diminished": (("11", {2, 5}), ("9", {2})),
}
_PLAIN_EXTENSIONS = (("13", {2, 9}), ("9", {2}))
_TENSION_NAMES = {1: "b9", 2: "9", 3: "#9", 5: "11", 6: "#11", 8: "b13", 9: "13", 11: "maj7"}


def extensions_of(family: Family) -> tuple[tuple[str, set[int]], ...]:
    """Return what each extension number of a family writes, highest first; none without a 7th."""
    if "{n}" not in family.suffix:
        return ()
    fitting = family.tensions | family.by_name
    numbers = _EXTENSIONS.get(family.kind, _PLAIN_EXTENSIONS)
    return tuple((name, stands_for) for name, stands_for in numbers if stands_for <= fitting)


def suffix_of(family: Family, written: frozenset[int]) -> str:
    """Return the canonical end of a symbol: the family with what is written on top."""
    left = set(written)
    number = "7"
    for name, stands_for in extensions_of(family):
        # 13b9 keeps its 13: the altered ninth replaces the one that 13 stands for.
        replaced = {2} if name == "13" and left & {1, 3} else set[int]()
        if stands_for - replaced <= left and (9 in left or name != "13"):
            number = name
            left -= stands_for
            break
    stem = family.suffix.replace("{n}", number)
    if family.name == "maj6" and 2 in left:
        stem, left = "69", left - {2}
    elif family.name == "m6" and 2 in left:
        stem, left = "m69", left - {2}
    return stem + _tail(stem, left)


def _tail(stem: str, written: set[int]) -> str:
    """Write tensions after a stem: ``b9``, ``(b9,b13)``, ``add9``, ``(add9)``."""
    names = [_TENSION_NAMES[tension] for tension in sorted(written)]
    if not names:
        return ""
    if not stem[-1:].isdigit():
        joined = ",".join(name if name == "maj7" else f"add{name}" for name in names)
        return joined if not stem and len(names) == 1 else f"({joined})"
    if len(names) == 1 and names[0][0] in "b#":
        return names[0]
    return f"({','.join(names)})"


NO_CHORD = Chord(
    symbol="N.C.",
    root=0,
    bass=0,
    family="none",
    tones=frozenset(),
    tensions=frozenset(range(12)),
    root_name="",
)
"""Silence of harmony: N.C."""
