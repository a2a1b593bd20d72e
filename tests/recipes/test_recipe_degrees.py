"""The ten recipes over twelve keys and six progressions: is every degree where the recipe says?

What is expected is written here by hand, from the recipes' own words, and spelled by music21 from
interval names. What a degree is on each chord: chord symbols count from the major scale (common
practice); available tensions by family after Nettles & Graf 1997; chord scales after Levine 1995,
both as quoted by readers.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import music21
import pytest

from jam.harmony.changes import Change, Changes
from jam.harmony.functions import function_of
from jam.harmony.symbols import parse_chord
from jam.players.soloist.recipes import RecipeNote, realise, through
from jam.styles.recipe_text import LineRecipe, load_recipe
from jam.transport.metre import Bars

FOLDER = Path(__file__).resolve().parents[2] / "styles" / "recipes"
LOW, HIGH = 50, 84

# Degrees of a line: beat from the chord's beginning and what sounds there. 5: that degree; ^5 _5:
# the scale's next note above, below; <3: a half step below; s6: the scale's own note in a run.
# A bar stands for the next chord.
WRITTEN = {
    "late-climb": "1.5:^5 2:5 2.5:7 3:9 3.5:11 4:^9 4.25:9 4.5:_9 4.75:9 5:7 5.5:s5 6:s6 6.5:s4"
    " 7:s5 7.5:3",
    "minor-doorway": "0:^3 0.5:<3 1:3 1.5:5 2:7 2.5:9 3:7 3.5:5",
    "downhill": "0:8 0.5:<8 1:7 1.5:s6 2:s5 2.5:s4 3:3",
    "dark-corner": "0.5:3 1:5 1.5:7 2:#9 2.5:b9 3:8 3.5:7 | 0:3",
    "open-window": "1:3 1.5:5 2:7 2.5:9 3:13 3.5:9 4:7",
    "low-lamp": "-0.5:<3 0:3 0.5:5 1:7 1.5:9 2:11 2.5:8 3:7 3.5:5",
    "over-the-bridge": "0:3 0.5:5 1:7 1.5:9 2:8 2.5:s7 3:s6 3.5:5"
    " | 0:^3 0.5:<3 1:3 1.5:5 2:7 2.5:b9 3:8 3.5:7 | 0:3",
    "cellar-stairs": "0.5:1 1:3 1.5:5 2:7 2.5:11 3:10 3.5:8"
    " | 0:b9 0.5:8 1:7 1.5:s5 2:s6 2.5:s4 3:s5 3.5:3 | 0:1 0.5:2 1:3 1.5:5 2:9",
    "corner-shop": "-0.5:b3 0:3 0.5:5 1:6 1.3333:b7 1.6667:8 2:8 2.5:8 3:5 3.5:1",
    "long-water": "0:5 1:1 1.5:4 2:7 2.5:10 3:9 4.5:8 5:s7 5.5:s6 6:s5 6.5:4 7:5",
}

# What plain numbers are: chord tones, tensions available, 2 4 6 of the scale where it has them.
OWN = {
    "m7": {1: "P1", 2: "M2", 3: "m3", 4: "P4", 5: "P5", 6: "M6", 7: "m7", 9: "M2", 11: "P4",
           13: "M6"},
    "maj7": {1: "P1", 2: "M2", 3: "M3", 4: "P4", 5: "P5", 6: "M6", 7: "M7", 9: "M2", 11: "A4",
             13: "M6"},
    "7": {1: "P1", 2: "M2", 3: "M3", 4: "P4", 5: "P5", 6: "M6", 7: "m7", 9: "M2", 11: "A4",
          13: "M6"},
    "7b9": {1: "P1", 2: "m2", 3: "M3", 4: "P4", 5: "P5", 6: "M6", 7: "m7", 9: "m2", 11: "A4",
            13: "M6"},
    "m7b5": {1: "P1", 2: "M2", 3: "m3", 4: "P4", 5: "d5", 6: "m6", 7: "m7", 9: "M2", 11: "P4",
             13: "m6"},
    "m6": {1: "P1", 2: "M2", 3: "m3", 4: "P4", 5: "P5", 6: "M6", 7: "M7", 9: "M2", 11: "P4",
           13: "M6"},
}  # fmt: skip
# Dorian, Ionian, Mixolydian, Phrygian dominant, Locrian, by letter.
SCALES = {
    "m7": "P1 M2 m3 P4 P5 M6 m7",
    "maj7": "P1 M2 M3 P4 P5 M6 M7",
    "7": "P1 M2 M3 P4 P5 M6 m7",
    "7 to minor": "P1 m2 M3 P4 P5 m6 m7",
    "m7b5": "P1 m2 m3 P4 d5 m6 m7",
    "m6": "P1 M2 m3 P4 P5 M6 m7",
}
SIGNED = {"b9": "m2", "#9": "A2", "b3": "m3", "b7": "m7"}

# Semitones of the root above the tonic, and the chord.
PROGRESSIONS = {
    "ii V I": ((2, "m7"), (7, "7"), (0, "maj7")),
    "ii V i": ((2, "m7b5"), (7, "7b9"), (0, "m6")),
    "I vi ii V": ((0, "maj7"), (9, "m7"), (2, "m7"), (7, "7")),
    "iii VI ii V": ((4, "m7"), (9, "7"), (2, "m7"), (7, "7")),
    "blues": ((0, "7"), (5, "7"), (0, "7"), (7, "7")),
    "modal": ((2, "m7"), (3, "m7"), (2, "m7")),
}
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def recipe(name: str) -> LineRecipe:
    path = FOLDER / f"{name}.yaml"
    return load_recipe(path.read_text(encoding="utf-8"), path.name)


def semitones(interval: str) -> int:
    return int(music21.interval.Interval(interval).semitones)


SEMITONES = {
    name: semitones(name) for row in OWN.values() for name in (*row.values(), *SIGNED.values())
} | {name: semitones(name) for row in SCALES.values() for name in row.split()}


def height(number: int, interval: str) -> int:
    """Return the semitones above the root of a numbered degree, with its octave."""
    return 12 * ((number - 1) // 7) + SEMITONES[interval]


def scale_step(number: int, scale: str) -> int:
    return height(number, SCALES[scale].split()[(number - 1) % 7])


def expected(word: str, quality: str, scale: str) -> int:
    """Return the semitones above the root that a word of `WRITTEN` asks for."""
    if word in SIGNED:
        number = int(word[1:])
        return height(number, SIGNED[word])
    number = int(word.lstrip("^_<s"))
    own = OWN[quality]
    plain = height(number, own.get(number, own[(number - 1) % 7 + 1]))
    if word[0] == "^":
        return scale_step(number + 1, scale)
    if word[0] == "_":
        return scale_step(number - 1, scale)
    if word[0] == "s":
        return scale_step(number, scale)
    return plain - 1 if word[0] == "<" else plain


def sections(name: str) -> list[list[tuple[float, str]]]:
    return [
        [(float(word.split(":")[0]), word.split(":")[1]) for word in part.split()]
        for part in WRITTEN[name].split("|")
    ]


def played_on(
    name: str, qualities: list[str], scales: list[str], at: int, last: bool
) -> list[tuple[float, int, int]]:
    """Return beat, chord number and semitones above its root of one time through a recipe that
    begins on chord ``at``, all chords lasting four beats."""
    parts = sections(name)
    found = []
    pickup = parts[0][0][0] < 0
    for number, part in enumerate(parts, start=at):
        if number >= len(qualities):
            break
        only = len(parts) == 1 or number == at + len(parts) - 1
        end = 3.5 if pickup and not last else 4.0
        for beat, word in part:
            if beat < end or not only:
                height_above = expected(word, qualities[number], scales[number])
                found.append((number * 4 + beat, number, height_above))
    return found


def changes_in(tonic: int, progression: str) -> tuple[Changes, list[str], list[str]]:
    rows = PROGRESSIONS[progression]
    chords = [parse_chord(ROOTS[(tonic + root) % 12] + quality) for root, quality in rows]
    following = [*chords[1:], None]
    changes = Changes(
        [
            Change(4.0 * n, chord, function=function_of(chord, after, None, blues=False))
            for n, (chord, after) in enumerate(zip(chords, following, strict=True))
        ]
    )
    scales = []
    for number, (root, quality) in enumerate(rows):
        scale = quality.replace("7b9", "7") if quality == "7b9" else quality
        if scale == "7" and number + 1 < len(rows):
            then, after = rows[number + 1]
            if (then - root) % 12 == 5 and after.startswith("m") and after != "maj7":
                scale = "7 to minor"
        scales.append(scale)
    return changes, [quality for _, quality in rows], scales


def whole_course(
    name: str, qualities: list[str], scales: list[str]
) -> list[tuple[float, int, int]]:
    """Return what `through` must play: the recipe again on each next chord, or a progression once;
    one that ends on the chord after its own begins on every other chord."""
    # dark-corner lands on the second chord and holds it, so that chord has no line of its own.
    stride = 2 if name == "dark-corner" else 1
    starts = range(0, 1 if name in OCCUR else len(qualities), stride)
    found: list[tuple[float, int, int]] = []
    for at in starts:
        found += played_on(name, qualities, scales, at, at == starts[-1])
    return found


OCCUR = {"over-the-bridge": "ii V I", "cellar-stairs": "ii V i"}
"""Recipes for a progression, and where alone that is in `PROGRESSIONS`."""


@cache
def root_class(name: str) -> int:
    return int(music21.pitch.Pitch(name.replace("b", "-")).pitchClass)


def check(notes: tuple[RecipeNote, ...], wanted: list[tuple[float, int, int]]) -> None:
    """Every note is where it is wanted, of its chord, and the notes over one chord keep the
    distances that their degrees have."""
    assert [round(note.tick / 12, 2) for note in notes] == [round(beat, 2) for beat, _, _ in wanted]
    roots: dict[int, set[int]] = {}
    for note, (_, number, above) in zip(notes, wanted, strict=True):
        root = root_class(note.chord.root_name)
        assert note.pitch % 12 == (root + above) % 12, (note, above)
        roots.setdefault(number, set()).add(note.pitch - above)
    assert all(len(found) == 1 for found in roots.values()), roots


@pytest.mark.parametrize("progression", PROGRESSIONS)
@pytest.mark.parametrize("name", WRITTEN)
def test_every_degree_is_where_the_recipe_says(name: str, progression: str) -> None:
    """As written, through a progression in all twelve keys: place, pitch and octave of each note
    are those of the degrees that the recipe's words name, spelled by music21. A recipe for a
    progression is left out where that does not occur; laid there all the same, its degrees stay.
    """
    for tonic in range(12):
        changes, qualities, scales = changes_in(tonic, progression)
        end = 4.0 * len(qualities)
        notes = through(recipe(name), changes, 0.0, end, Bars(), low=36, high=96)
        if OCCUR.get(name, progression) != progression:
            assert notes == ()
            notes = realise(recipe(name), changes, 0.0, Bars(), low=36, high=96)
        assert notes
        check(notes, whole_course(name, qualities, scales))


OWN_CHORDS = {
    "late-climb": ["m7"],
    "minor-doorway": ["m7"],
    "downhill": ["7"],
    "dark-corner": ["7b9", "m7"],
    "open-window": ["maj7"],
    "low-lamp": ["m7b5"],
    "over-the-bridge": ["m7", "7", "maj7"],
    "cellar-stairs": ["m7b5", "7b9", "m6"],
    "corner-shop": ["7"],
    "long-water": ["m7"],
}


@pytest.mark.parametrize("name", WRITTEN)
def test_alone_on_its_own_chords(name: str) -> None:
    """Nothing of a recipe is left out over the chords it is written for, in any key: to its last
    note every degree is where it says, and in the range."""
    qualities = OWN_CHORDS[name]
    scales = ["7 to minor" if quality == "7b9" else quality for quality in qualities]
    wanted = [
        (4 * number + beat, number, expected(word, qualities[number], scales[number]))
        for number, part in enumerate(sections(name))
        for beat, word in part
    ]
    for root in ROOTS:
        one = recipe(name)
        notes = realise(one, one.own_changes(root), 0.0, Bars(), low=LOW, high=HIGH)
        check(notes, wanted)
        assert all(LOW <= note.pitch <= HIGH for note in notes)


def test_these_are_all_there_are() -> None:
    """Ten recipes come along, and each is checked here."""
    assert sorted(path.stem for path in FOLDER.glob("*.yaml")) == sorted(WRITTEN)
    assert len(WRITTEN) == 10
    for name in WRITTEN:
        assert recipe(name).name == name
        assert len(recipe(name).about) > 20
