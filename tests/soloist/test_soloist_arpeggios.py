"""Arpeggios from the 3rd to the 9th, the 5th to the 11th, the 7th to the 13th."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from soloist_asking import ROOTS, STYLES, in_bars, plain_request

from jam.harmony.changes import Change
from jam.harmony.functions import Function
from jam.harmony.symbols import parse_chord
from jam.players.soloist.arpeggios import stack, with_arpeggios
from jam.players.soloist.slots import Slot

# Semitones above the root of 1 3 5 7 9 11 13, on C. Chord tones: any textbook (checked against
# two libraries in the tests of harmony). Tensions: reader notes and flash cards after Nettles &
# Graf 1997 (The Chord Scale Theory and Jazz Harmony) and Levine 1995 (The Jazz Theory Book):
# a tension is available a whole step above a chord tone; - where the rows agree that there is none.
STACKS: tuple[tuple[str, Function, str], ...] = (
    ("Cmaj7", "none", "0 4 7 11 2 6 9"),  # Lydian: 9 #11 13; natural 11 is avoided
    ("Cm7", "none", "0 3 7 10 2 5 9"),  # Dorian: 9 11 13
    ("CmMaj7", "tonic", "0 3 7 11 2 5 9"),  # melodic minor: 9 11 13
    ("C7", "to_major", "0 4 7 10 2 6 9"),  # Lydian dominant: 9 #11 13; natural 11 is avoided
    ("C7sus4", "none", "0 - 7 10 2 - 9"),  # Mixolydian, the 4 a chord tone: 9 13
    ("Cmaj7#5", "none", "0 4 8 11 2 6 -"),  # Lydian augmented: 9 #11
    ("Cdim7", "none", "0 3 6 9 2 5 8"),  # whole-half diminished: 9 11 b13
    ("C7#11", "to_major", "0 4 7 10 2 6 9"),
    ("C13", "to_major", "0 4 7 10 2 6 9"),
    ("C6", "tonic", "0 4 7 9 2 6 -"),  # the 6 is a chord tone already
    ("Cm6", "tonic", "0 3 7 9 2 5 -"),
    ("Cphrygian", "none", "0 3 7 10 1 5 -"),  # common practice: its b9 is what makes it
)
# Where books or functions leave a choice: any of these will do. A dominant to minor has b9 or #9
# and b13 (Levine 1995; functions: the project's table), a half-diminished 11 and b13, its 9 only
# in Levine's school.
CHOICES: tuple[tuple[str, Function, tuple[set[int | None], ...]], ...] = (
    ("C7", "to_minor", ({1, 3}, {6}, {8})),
    ("C7alt", "to_minor", ({1, 3}, {6}, {8})),
    ("C7b9", "to_minor", ({1, 3}, {6}, {8})),
    ("Cm7b5", "two", ({2, None}, {5}, {8})),
)


def on(symbol: str, function: Function = "none") -> Change:
    """Return a change to ``symbol`` on beat 0."""
    return Change(0.0, parse_chord(symbol), function=function)


@pytest.mark.parametrize(("symbol", "function", "steps"), STACKS)
def test_stacks_are_the_textbooks(symbol, function, steps):
    """1 3 5 7 9 11 13 of each family as the textbooks stack them."""
    wanted = [None if step == "-" else int(step) for step in steps.split()]
    assert stack(on(symbol, function)) == wanted


@pytest.mark.parametrize(("symbol", "function", "tensions"), CHOICES)
def test_altered_and_half_diminished_stacks(symbol, function, tensions):
    """Where there is a choice of tension, one of those that a textbook lists is taken."""
    for step, options in zip(stack(on(symbol, function))[4:], tensions, strict=True):
        assert step in options


@pytest.mark.parametrize("symbol", ["Dm7", "G7", "Cmaj7", "Bm7b5", "E7alt", "A6", "F#dim7"])
def test_stacks_move_with_the_root(symbol):
    """The stack of a chord a fifth higher is the stack a fifth higher."""
    chord = parse_chord(symbol)
    tail = symbol[len(chord.root_name) :]
    higher = stack(on(ROOTS[(chord.root + 7) % 12] + tail))
    moved = [None if c is None else (c + 7) % 12 for c in stack(on(symbol))]
    assert higher == moved


def test_two_five_one_arpeggios_by_name():
    """The arpeggios over Dm7 G7 Cmaj7 spelled out: F A C E is 3 5 7 9 on Dm7, B D F A on G7,
    E G B D on Cmaj7 (rootless position A of teaching pages; the chords' upper structures)."""
    names = {"Dm7": "F A C E", "G7": "B D F A", "Cmaj7": "E G B D"}
    letters = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    for symbol, notes in names.items():
        assert stack(on(symbol, "to_major"))[1:5] == [letters[name] for name in notes.split()]


@pytest.mark.parametrize("symbol", ["Cmaj7", "Cm7", "C7", "C6", "Cm7b5", "Cdim7", "C7alt", "Csus4"])
def test_every_step_is_strong_and_none_comes_twice(symbol):
    """Nothing in a stack is weak on its chord, and no pitch class stands on two steps."""
    chord = parse_chord(symbol)
    found = [c for c in stack(Change(0.0, chord)) if c is not None]
    assert set(found) <= chord.strong
    assert len(set(found)) == len(found)


def test_runs_become_arpeggios_as_often_as_the_style_asks():
    """Weight 0 leaves every run alone; the more weight, the more arpeggios; each is four
    neighbouring notes over one chord, a third apart in its stack and all one way."""
    slots = [Slot(12 * n // 2, 6, "run", 3, n) for n in range(32)]
    counts = []
    for weight in (0.0, 0.5, 1.0):
        lines = STYLES["bop"].lines.model_copy(update={"arpeggios": weight})
        request = plain_request(
            style=STYLES["bop"].model_copy(update={"lines": lines}),
            changes=in_bars("Dm7|G7|Cmaj7|Cmaj7|Dm7"),
        )
        count = 0
        for seed in range(20):
            rng = np.random.default_rng(seed)
            turned = [s for s in with_arpeggios(slots, request, rng) if s.move == "arpeggio"]
            count += len(turned)
            assert len(turned) % 4 == 0
            for place in range(0, len(turned), 4):
                _is_arpeggio(turned[place : place + 4], request.changes)
        counts.append(count)
    assert counts[0] == 0
    assert 0 < counts[1] < counts[2]


def _is_arpeggio(four, changes):
    change = changes.at(four[0].beat)
    stacked = [c for c in stack(change) if c is not None]
    steps = [stacked.index(slot.wanted_class) for slot in four]
    assert {b - a for a, b in pairwise(steps)} in ({1}, {-1})
    assert steps[1] > steps[0] if four[0].direction > 0 else steps[1] < steps[0]
    assert min(steps) >= 1
    assert len({changes.at(slot.beat).beat for slot in four}) == 1
    assert [slot.place for slot in four] == [0, 1, 2, 3]
