"""A phrase recipe as a drill: through keys, or over the changes of a tune or of one's own.

Beats are quarter notes; a bar of count-in comes first. Between two keys a bar is left free of the
line, to breathe and to play it back. Chords are moved to other keys with the letters of their
names; where that would take a double sign, the usual name is taken (common practice). Varied,
every time differs from what is written, except the first of several rounds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from jam.charts.changes import changes_of
from jam.charts.changes_text import read_changes
from jam.charts.typed import Typed
from jam.errors import InputError
from jam.harmony.changes import Change, Changes
from jam.harmony.chord import Chord, chord_on, make_chord
from jam.harmony.functions import function_of
from jam.harmony.keys import Key, parse_key
from jam.harmony.pitch import LETTERS, SymbolError, name_on_letter, pitch_class
from jam.players.soloist.recipe_sayings import occurrences
from jam.players.soloist.recipes import RecipeNote, given_way, realise, through, varied
from jam.session.resources import find_chart, find_recipe
from jam.styles.recipe_text import LineRecipe
from jam.transport.metre import Bars, Metre

KEYS = {
    "all": ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    "circle": ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"),
}
"""The twelve keys, upwards by half steps or round the circle of fourths (common practice)."""

REGISTERS = {"low": (43, 67), "middle": (55, 79), "high": (67, 91)}
"""Two octaves each, from G to G, as MIDI numbers."""

BEYOND = 6
"""Semitones by which a line may leave its register at either end before it is folded back; with
them, every line no wider than two octaves keeps its shape in any key."""

USUAL_BPM = 120.0


@dataclass(frozen=True)
class DrillOptions:
    """Everything `jam recipe` can be told. ``keys`` is ``all``, ``circle`` or names with commas,
    ``over`` are chord symbols; without ``out`` it is only shown."""

    recipe: str
    chart: str | None = None
    over: str | None = None
    keys: str | None = None
    tempo_bpm: float | None = None
    register: str = "middle"
    varied: bool = False
    seed: int = 1
    out: Path | None = None
    wav: bool = False
    home: Path | None = None


@dataclass(frozen=True)
class Round:
    """One time through: the key it is in, where it begins and ends, and the line's notes."""

    tonic: str
    start: float
    end: float
    notes: tuple[RecipeNote, ...]


@dataclass(frozen=True)
class Drill:
    """A drill ready to be played or shown; ``bpm`` is in quarter notes a minute."""

    recipe: LineRecipe
    changes: Changes
    bars: Bars
    metre: Metre
    bpm: float
    rounds: tuple[Round, ...]
    varied: bool = False

    @property
    def end(self) -> float:
        """Return the beat at which it ends."""
        return self.rounds[-1].end

    @property
    def notes(self) -> list[RecipeNote]:
        """Return all notes of the line, in order."""
        return [note for one in self.rounds for note in one.notes]


@dataclass(frozen=True)
class _Course:
    """What a round goes over, before it is set in a key: ``tonic`` is the key it is written in,
    ``beats`` its length, ``rest_beats`` the breath after it."""

    changes: Changes
    tonic: str
    key: Key | None
    beats: float
    rest_beats: float
    metre: Metre
    bpm: float
    own: bool = False


def drill(options: DrillOptions) -> Drill:
    """Return the drill that the options ask for; raises InputError."""
    recipe = find_recipe(options.recipe, options.home).value
    if options.chart is not None and options.over is not None:
        raise InputError("--over", "there is a --chart as well", "Give one of the two")
    course = _course(recipe, options)
    names = keys_named(options.keys) if options.keys is not None else (course.tonic,)
    low, high = REGISTERS[options.register]
    rng = np.random.default_rng(options.seed) if options.varied else None
    bar = course.metre.bar_beats
    step = course.beats + course.rest_beats
    begins = [bar + number * step for number in range(len(names))]
    rows = list(zip(names, begins, strict=True))
    placed = [change for name, begin in rows for change in _moved(course, name, begin)]
    changes, bars = Changes(placed), Bars(bar)
    rounds: list[Round] = []
    for name, begin in rows:
        key = _key_on(course, name)
        end = begin + course.beats
        first_as_written = len(rows) > 1 and not rounds
        if course.own:
            once = recipe if rng is None or first_as_written else varied(recipe, rng)
            notes = realise(once, changes, begin, bars, low=low, high=high, beyond=BEYOND, key=key)
        else:
            notes = through(
                recipe,
                changes,
                begin,
                end,
                bars,
                low=low,
                high=high,
                beyond=BEYOND,
                key=key,
                rng=rng,
                first_as_written=first_as_written,
            )
        if rounds and notes:
            before = given_way(rounds[-1].notes, notes[0].tick)
            rounds[-1] = replace(rounds[-1], notes=tuple(before))
        rounds.append(Round(name, begin, begin + step, notes))
    if not any(one.notes for one in rounds):
        raise _silent(recipe, course)
    return Drill(recipe, changes, bars, course.metre, course.bpm, tuple(rounds), options.varied)


def _silent(recipe: LineRecipe, course: _Course) -> InputError:
    """Return why nothing of the recipe can be played over the chords."""
    if not occurrences(recipe, course.changes):
        return InputError(
            f"recipe {recipe.name}",
            f"it is for {recipe.over}, and such chords come nowhere in a row in these changes",
            "Name a recipe for single chords, or a tune that has them",
        )
    return InputError(
        f"recipe {recipe.name}",
        f"it starts on {recipe.starts}, and no chord lasts long enough for two of its notes",
        "Name another recipe, or chords that last longer",
    )


def keys_named(text: str) -> tuple[str, ...]:
    """Return the tonics that ``text`` asks for; raises InputError."""
    if text in KEYS:
        return KEYS[text]
    names = [name.strip() for name in text.split(",")]
    for name in names:
        try:
            pitch_class(name)
        except SymbolError:
            mend = "Write all, circle, or keys with commas, as in C,F,Bb"
            raise InputError("--keys", f"{name!r} is no key", mend) from None
    return tuple(names)


def _course(recipe: LineRecipe, options: DrillOptions) -> _Course:
    bpm = options.tempo_bpm
    if options.chart is not None:
        chart = find_chart(options.chart, options.home).value
        changes = Changes(changes_of(chart, chart.chorus, 0.0))
        tonic, beats = chart.key.tonic_name, chart.chorus.beats
        return _Course(changes, tonic, chart.key, beats, 0.0, chart.metre, bpm or chart.tempo_bpm)
    metre = Metre()
    bar, bpm = metre.bar_beats, bpm or USUAL_BPM
    if options.over is not None:
        changes, beats = changes_typed(options.over)
        return _Course(changes, changes[-1].chord.root_name or "C", None, beats, bar, metre, bpm)
    key = recipe.meant_for.key("C") if recipe.meant_for.chords else None
    return _Course(recipe.own_changes("C"), "C", key, recipe.beats, bar, metre, bpm, own=True)


def changes_typed(text: str) -> tuple[Changes, float]:
    """Return the changes in ``text``, a bar each, or bars as in a chart where there are bar lines;
    and their length in beats. Raises InputError."""
    bars_text = text if "|" in text else " | ".join(text.split())
    metre = Metre()
    written = read_changes(Typed(bars_text, "--over", 1, ""), metre)
    placed = [
        (number * metre.bar_beats + change.beat, change.chord)
        for number, bar in enumerate(written)
        for change in bar.changes
    ]
    kept = [row for n, row in enumerate(placed) if not n or placed[n - 1][1] != row[1]]
    following = [chord for _, chord in kept[1:]] + [None]
    changes = [
        Change(beat, chord, function=function_of(chord, after, None, blues=False))
        for (beat, chord), after in zip(kept, following, strict=True)
    ]
    return Changes(changes), len(written) * metre.bar_beats


def _key_on(course: _Course, tonic: str) -> Key | None:
    if course.key is None:
        return None
    mode = course.key.name.partition(" ")[2]
    return parse_key(f"{tonic} {mode}".strip())


def _moved(course: _Course, tonic: str, begin: float) -> list[Change]:
    semitones = (pitch_class(tonic) - pitch_class(course.tonic)) % 12
    letters = LETTERS.index(tonic[0]) - LETTERS.index(course.tonic[0])
    return [
        replace(
            change, beat=change.beat + begin, chord=transposed(change.chord, semitones, letters)
        )
        for change in course.changes
    ]


def transposed(chord: Chord, semitones: int, letters: int) -> Chord:
    """Return the chord so many semitones and letters higher (both modulo the octave)."""
    if chord.is_none or not (semitones or letters):
        return chord
    root = _name(chord.root_name, semitones, letters, chord)
    bass = _name(chord.bass_name, semitones, letters, chord) if chord.bass_name else ""
    written = frozenset((one - chord.root) % 12 for one in chord.written)
    return make_chord(root, chord.family, written, bass)


def _name(name: str, semitones: int, letters: int, chord: Chord) -> str:
    target = (pitch_class(name) + semitones) % 12
    moved = name_on_letter(LETTERS.index(name[0]) + letters, target)
    return moved if len(moved) <= 2 else chord_on(target, chord.family).root_name
