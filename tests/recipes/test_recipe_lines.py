"""Recipes played: time, register, range, sequence over changes, and what varying leaves alone."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.players.soloist.recipes import RecipeNote, realise, statement_of, through, varied
from jam.styles.recipe_text import LineRecipe, load_recipe
from jam.styles.recipe_words import WORDINGS
from jam.transport.metre import Bars

FOLDER = Path(__file__).resolve().parents[2] / "styles" / "recipes"
SHIPPED = {
    path.stem: load_recipe(path.read_text(encoding="utf-8"), path.name)
    for path in sorted(FOLDER.glob("*.yaml"))
}
TWO_OCTAVES = (55, 79)


def line_of(*items: str, starts: str = "1", over: str = "any") -> LineRecipe:
    return LineRecipe(name="mine", about="mine", starts=starts, over=over, line=list(items))


def chords(text: str, beats: float = 4.0) -> Changes:
    return Changes(
        [Change(beats * n, parse_chord(symbol)) for n, symbol in enumerate(text.split())]
    )


def played(recipe: LineRecipe, text: str = "Cmaj7", beats: float = 4.0) -> tuple[RecipeNote, ...]:
    low, high = TWO_OCTAVES
    return realise(recipe, chords(text, beats), 0.0, Bars(), low=low, high=high)


def places(notes: tuple[RecipeNote, ...]) -> list[tuple[int, int, int]]:
    return [(note.tick, note.ticks, note.pitch) for note in notes]


def test_paces_rests_and_holds() -> None:
    """Each note begins and lasts where the words say, in twelfths of a beat."""
    recipe = line_of(
        "degree 1", "in triplets", "degrees 2 3 5", "rest", "in sixteenths", "degrees 5 6",
        "rest for half a beat", "in quarters", "degree 3", "hold for 2 beats", "degree 1",
        starts="and of 1",
    )  # fmt: skip
    assert [(note.tick, note.ticks) for note in played(recipe)] == [
        (6, 6), (12, 4), (16, 4), (20, 4), (28, 3), (31, 3), (40, 24), (64, 12),
    ]  # fmt: skip


def test_degrees_lie_above_one_another() -> None:
    """8 is the root an octave up, 9 lies above it, low 7 below the root."""
    pitches = [note.pitch for note in played(line_of("degrees 1 8 9 2 low 7 1"))]
    assert [b - a for a, b in pairwise(pitches)] == [12, 2, -12, -3, 1]


def test_a_sign_fixes_a_degree() -> None:
    """A plain 3 or 9 is the chord's own; with a sign or `natural` it is the same on any chord."""
    words = ("degrees 1 3 b3 natural 3 9 natural 9",)
    root, *rest = (note.pitch for note in played(line_of(*words), "C7alt"))
    assert [pitch - root for pitch in rest] == [4, 3, 4, 13, 14]
    root, *rest = (note.pitch for note in played(line_of(*words), "Cm7"))
    assert [pitch - root for pitch in rest] == [3, 3, 4, 14, 14]


@pytest.mark.parametrize(
    ("item", "steps"),
    [
        ("half steps 5 down to 3", [7, 6, 5, 4]),
        ("thirds 5 down to 1", [7, 4, 5, 2, 4, 0]),
        ("thirds 1 to 4", [0, 4, 2, 5]),
        ("broken arpeggio 1 to 9", [0, 7, 4, 11, 14]),
        ("enclose 3 from below", [3, 5, 4]),
        ("turn round 5", [9, 7, 5, 7]),
        ("repeat 5 3 times", [7, 7, 7]),
        ("chromatic above 3", [5]),
    ],
)
def test_what_devices_play(item: str, steps: list[int]) -> None:
    """Over a major seventh, each device plays the semitones above the root that its words mean."""
    notes = played(line_of("degree 1", item))
    assert [note.pitch - notes[0].pitch for note in notes[1:]] == steps


def test_leaps_go_the_way_they_say() -> None:
    """A leap takes the nearest octave of its degree that lies the way it goes."""
    notes = played(line_of("degree 5", "leap up to 3", "leap down to 1", "leap up to 1"))
    assert [b.pitch - a.pitch for a, b in pairwise(notes)] == [9, -4, 12]


def test_the_line_goes_over_on_the_change() -> None:
    """It waits for a change that comes late, goes over up to an eighth ahead of it, and leaves out
    what would run past it; a landing falls on the change."""
    recipe = line_of("degrees 1 2 3", "on the next chord", "degrees 1 3", over="ii:4 V:4")
    assert [note.tick for note in played(recipe, "Dm7 G7")] == [0, 6, 12, 48, 54]
    ahead = line_of("degrees 1 2 3 5 3 2 1", "on the next chord", "degree 3", over="ii:4 V:4")
    last = played(ahead, "Dm7 G7")[-1]
    assert (last.tick, last.chord.symbol, last.degree) == (42, "G7", "3")
    cut = played(ahead, "Dm7 G7", 2.0)
    assert [note.tick for note in cut] == [0, 6, 12, 18, 24]
    land = line_of("degrees 1 2 3", "land on 3", over="ii:4 V:4")
    landed = played(land, "Dm7 G7", 6.0)[-1]
    assert (landed.tick, landed.degree, landed.landing) == (72, "3", True)
    alone = played(line_of("degrees 1 2 3", "land on 3"))[-1]
    assert (alone.tick, alone.degree) == (48, "3")


@pytest.mark.parametrize("bar_beats", [2.0, 3.0, 4.0, 5.0, 6.0])
def test_a_pickup_in_any_metre(bar_beats: float) -> None:
    """The and of 4 before is an eighth ahead of the first chord, however long the bars are."""
    bars = Bars(bar_beats)
    recipe = line_of("degrees 5 1", starts="and of 4 before")
    low, high = TWO_OCTAVES
    notes = through(
        recipe, chords("C7 F7", bar_beats), 0.0, 2 * bar_beats, bars, low=low, high=high
    )
    change = round(12 * bar_beats)
    assert [note.tick for note in notes] == [-6, 0, change - 6, change]
    early = line_of("degrees 5 1", starts="3 before")
    assert realise(early, chords("C7"), 0.0, bars, low=low, high=high)[0].tick == -24


def test_the_next_chord_is_entered_near_by() -> None:
    """Over a change no note leaps further than a tritone."""
    for root in ("C", "F#", "Bb", "E"):
        notes = played(line_of("degrees 5 3 1", "land on 7", over="I:4 I:4"), f"Cmaj7 {root}maj7")
        assert abs(notes[-1].pitch - notes[-2].pitch) <= 6


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_ones_keep_to_the_range(name: str) -> None:
    """In each register and key the line moves by whole octaves and keeps its shape."""
    recipe = SHIPPED[name]
    for tonic in ("C", "Eb", "F#", "A"):
        changes = recipe.own_changes(tonic)
        wide = realise(recipe, changes, 0.0, Bars(), low=21, high=108)
        for low in (40, 52, 64):
            notes = realise(recipe, changes, 0.0, Bars(), low=low, high=low + 31)
            assert all(low <= note.pitch <= low + 31 for note in notes)
            shifts = {a.pitch - b.pitch for a, b in zip(notes, wide, strict=True)}
            assert len(shifts) == 1
            assert next(iter(shifts)) % 12 == 0


def test_a_line_too_wide_is_moved_at_its_rests() -> None:
    """Where the whole does not fit, the octave changes at a rest and nowhere else."""
    recipe = line_of("degrees 1 3 5 8", "rest", "degrees 15 13 11", "rest", "degrees low 5 low 7 1")
    notes = realise(recipe, chords("C7"), 0.0, Bars(), low=60, high=75)
    assert all(60 <= note.pitch <= 75 for note in notes)
    wide = realise(recipe, chords("C7"), 0.0, Bars(), low=21, high=108)
    shifts = [a.pitch - b.pitch for a, b in zip(notes, wide, strict=True)]
    for (a, b), (one, other) in zip(pairwise(notes), pairwise(shifts), strict=True):
        assert one == other or b.tick > a.end


def test_what_is_folded_says_so() -> None:
    """A line of two octaves keeps its shape in any key when it may leave the range by a tritone; of
    one that is wider, the notes moved into another octave are marked, and no others."""
    wide = line_of("degrees 1 5 8 12 15")
    wider = line_of("scale low 1 to 15")
    low, high = TWO_OCTAVES
    for root in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"):
        changes = chords(f"{root}7")
        notes = realise(wide, changes, 0.0, Bars(), low=low, high=high, beyond=6)
        assert [b.pitch - a.pitch for a, b in pairwise(notes)] == [7, 5, 7, 5]
        assert not any(note.folded for note in notes)
        full = realise(wider, changes, 0.0, Bars(), low=0, high=127)
        notes = realise(wider, changes, 0.0, Bars(), low=low, high=high)
        shifts = [a.pitch - b.pitch for a, b in zip(notes, full, strict=True)]
        straight = {shift for shift, note in zip(shifts, notes, strict=True) if not note.folded}
        folded = {shift for shift, note in zip(shifts, notes, strict=True) if note.folded}
        assert len(straight) == 1
        assert folded
        assert not folded & straight


@pytest.mark.parametrize("name", SHIPPED)
def test_varied_differs_and_lands_the_same(name: str) -> None:
    """Over its own chords a varied recipe differs in some note, ends at the same place on the same
    degree, and every landing is where it was."""
    recipe = SHIPPED[name]
    changes = recipe.own_changes("C")

    def notes_of(one: LineRecipe) -> tuple[RecipeNote, ...]:
        return realise(one, changes, 0.0, Bars(), low=48, high=84)

    plain = notes_of(recipe)
    for seed in range(12):
        other = notes_of(varied(recipe, np.random.default_rng(seed)))
        assert places(other) != places(plain)
        for note in (*(note for note in plain if note.landing), plain[-1]):
            again = next(one for one in other if one.tick == note.tick)
            assert (again.degree, again.ticks) == (note.degree, note.ticks)
        same = notes_of(varied(recipe, np.random.default_rng(seed)))
        assert places(same) == places(other)


def test_nothing_varies_that_may_not() -> None:
    """A recipe that says so is played as it is written."""
    fixed = SHIPPED["downhill"].model_copy(update={"varied": []})
    assert varied(fixed, np.random.default_rng(3)) == fixed


def test_through_shortens_and_goes_on() -> None:
    """On each chord the recipe begins again; chords of two beats hear its beginning only."""
    recipe = line_of("degrees 1 2 3 5 6 5 3 2")
    notes = through(recipe, chords("C7 F7 G7", 2.0), 0.0, 6.0, Bars(), low=55, high=79)
    assert [note.tick for note in notes] == [6 * n for n in range(12)]
    assert [note.asked for note in notes] == ["1", "2", "3", "5"] * 3


def said_on(recipe: LineRecipe, changes: Changes, end: float) -> list[int]:
    """Return the bars in which the recipe's first note sounds, each time it is said."""
    low, high = TWO_OCTAVES
    notes = through(recipe, changes, 0.0, end, Bars(), low=low, high=high)
    return [note.tick // 48 for note in notes if note.asked == notes[0].asked]


def test_again_while_a_chord_stays() -> None:
    """On a chord of many bars the recipe is said as often as it fits, a bar free between."""
    assert said_on(line_of("degrees 1 2 3 5"), chords("Cm7 F7", 32.0), 64.0) == [
        *(0, 2, 4, 6),
        *(8, 10, 12, 14),
    ]
    long = line_of("degrees 1 2 3 5 6 5 3 2", "degree 5", "hold for 4 beats")
    assert said_on(long, chords("Cm7 F7", 32.0), 64.0) == [0, 3, 6, 8, 11, 14]
    assert said_on(line_of("degrees 1 2 3 5"), chords("Cm7 F7", 8.0), 16.0) == [0, 2]


def test_a_landing_waits_for_its_chord() -> None:
    """On a long chord a recipe that lands is said so late that it lands on the change; before that,
    where there is room, on the chord itself."""
    low, high = TWO_OCTAVES
    changes = chords("C7 Fmaj7", 24.0)
    recipe = line_of("degrees 5 b9", "land on 3", "hold for 2 beats")
    notes = through(recipe, changes, 0.0, 48.0, Bars(), low=low, high=high)
    landings = [(note.tick, note.ticks, note.chord.symbol) for note in notes if note.landing]
    assert landings == [(48, 24, "C7"), (288, 24, "Fmaj7"), (480, 24, "Fmaj7")]
    assert [note.tick for note in notes if note.asked == "5"] == [0, 240, 432]
    alone = line_of("land on 3")
    assert through(alone, chords("C7", 32.0), 0.0, 32.0, Bars(), low=low, high=high) == ()


PROGRESSIONS = [
    ("over-the-bridge", "Cmaj7 Em7 A7 Dm7 G7 Cmaj7 Am7 D7 G7", [3]),
    ("over-the-bridge", "Dm7 G7sus4 C6 Ebm7 Ab7 Dbmaj7", [0, 3]),
    ("over-the-bridge", "Dm7b5 G7 Cmaj7 Dm7 G7 Cm7 Dm7 Db7 Cmaj7", []),
    ("cellar-stairs", "Dm7 G7 Cmaj7 Bm7b5 E7b9 Am7 F7", [3]),
    ("cellar-stairs", "Ebmaj7 Gm7b5 C7 Fm6 Bb7 Gm7b5 C7b9 FmMaj7", [1, 5]),
]


@pytest.mark.parametrize(("name", "symbols", "bars"), PROGRESSIONS)
def test_a_progression_is_laid_where_it_occurs(name: str, symbols: str, bars: list[int]) -> None:
    """Its chords in a row, of its kinds, with its root motion, on whatever tonic; elsewhere there
    is silence, and the soloist says no more of it than is its own."""
    changes = chords(symbols)
    end = 4.0 * len(changes)
    notes = through(SHIPPED[name], changes, 0.0, end, Bars(), low=40, high=90)
    assert sorted({note.tick // 48 for note in notes}) == [b + n for b in bars for n in range(3)]
    parts = []
    for first in range(len(changes) - 2):
        here, *after = changes[first : first + 3]
        statement = statement_of(SHIPPED[name], here, following=after)
        over_chords = max(statement.onsets) // 48 + 1
        parts += [first] if over_chords == 3 else []
    assert parts == bars


def test_silence_where_there_is_no_chord() -> None:
    """Over N.C. nothing is played; the next chord has the recipe again."""
    recipe = line_of("degrees 1 2 3 5")
    notes = through(recipe, chords("C7 N.C. G7"), 0.0, 12.0, Bars(), low=55, high=79)
    assert [note.tick // 48 for note in notes] == [0] * 4 + [2] * 4


def test_statement_for_the_soloist() -> None:
    """The soloist gets the same rhythm and intervals, and over the chords to come if it names
    them."""
    recipe = SHIPPED["over-the-bridge"]
    first, *rest = recipe.own_changes("C")
    notes = realise(recipe, recipe.own_changes("C"), 0.0, Bars(), low=48, high=84)
    said = statement_of(recipe, first, following=rest)
    assert said.onsets == tuple(note.tick for note in notes)
    assert said.intervals == (None, *(b.pitch - a.pitch for a, b in pairwise(notes)))
    alone = statement_of(recipe, first, 6)
    assert len(alone.onsets) == 8
    assert alone.phase == 6


item = st.sampled_from(
    [row.example for row in WORDINGS if row.kind not in ("hold", "next", "pace")]
    + ["in eighths", "in triplets", "in sixteenths", "degrees 1 2 3 5", "scale 8 down to 3"]
)
symbol = st.sampled_from(
    ["Cmaj7", "F#m7", "Bb7", "E7alt", "Abm7b5", "Ddim7", "G7sus4", "Bm6", "C6", "Eb+", "A7#5", "F5"]
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(item, min_size=1, max_size=10).filter(lambda line: line.count("land on 3") < 2),
    st.lists(symbol, min_size=1, max_size=4),
    st.integers(30, 80),
    st.integers(11, 40),
    st.integers(0, 99),
)
def test_any_recipe_on_any_chords(
    items: list[str], symbols: list[str], low: int, span: int, seed: int
) -> None:
    """Whatever the line: one note at a time, in order, in the range, named by its chord, and the
    same when it is asked for again."""
    recipe = line_of("degree 5", *items)
    changes = chords(" ".join(symbols))
    end = 4.0 * len(symbols)
    high = low + span
    for one in (recipe, varied(recipe, np.random.default_rng(seed))):
        notes = through(one, changes, 0.0, end, Bars(), low=low, high=high)
        assert notes == through(one, changes, 0.0, end, Bars(), low=low, high=high)
        assert all(low <= note.pitch <= high and note.ticks > 0 for note in notes)
        assert all(a.end <= b.tick for a, b in pairwise(notes))
        assert all(note.degree == note.chord.degree(note.pitch) for note in notes)
