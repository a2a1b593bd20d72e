"""Each figure is what its name and its reason say, by an independent reading of the chords."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from audit.chords import SPELLINGS, read
from pychord import Chord as Spelt
from test_soloist_figures import OUTSIDE, drawn, pitches

from jam.harmony.changes import Change
from jam.harmony.symbols import parse_chord
from jam.players.soloist.figures_kept import KEPT, kept
from jam.styles.names import FIGURES

PROGRESSIONS = (
    *(("Dm7", "G7"), ("G7", "Cmaj7"), ("Cmaj7", "Dm7"), ("A7", "Dm7"), ("Bbmaj7", "Cm7")),
    *(("F7", None), ("Em7b5", "A7b9"), ("Cm6", "Ab7"), ("Ab7alt", "Dbm7"), ("F#dim7", "Gm7")),
    *(("Eb6", "Fm7"), ("C7sus4", "F"), ("Gm7", None)),
)


def drawings(name, counts=range(3, 10), seeds=range(4), off=False):
    """Yield figures of a name over several chords, with the symbol."""
    for symbol, coming in PROGRESSIONS:
        for count in counts:
            for seed in seeds:
                figure = drawn(name, symbol, coming, count, seed, off=off)
                if figure is not None:
                    yield symbol, figure


def steps_of(figure, symbol):
    """Return the figure in semitones above the chord's root, within an octave."""
    return [(wanted - read(symbol).root) % 12 for wanted in figure.classes]


@pytest.mark.parametrize("name", [name for name in FIGURES if name not in OUTSIDE])
def test_the_reason_names_the_notes(name):
    """The degrees in the log's words are the notes of the figure, as musicians name them."""
    for symbol, figure in drawings(name):
        named = figure.why.rsplit(":", 1)[-1].split(" of ")[0].split()
        for degree, step in zip(named, steps_of(figure, symbol), strict=True):
            assert degree in SPELLINGS[step], figure


def test_passing_notes_fall_between_the_beats():
    """Of a passing-note scale in eighths the chord tones fall on the beats (over a minor chord
    with both thirds the 11 too), the note that is in no seven-note scale off them (common
    practice; Baker 1985)."""
    for off in (False, True):
        seen = 0
        for symbol, figure in drawings("bebop_scale", off=off):
            seen += 1
            sound = read(symbol)
            line = pitches(figure)
            on_beats = line[1::2] if off else line[::2]
            six = (sound.root + 9) % 12
            own = sound.tones | ({six} if 4 in steps_of_tones(sound) else set())
            if 3 in steps_of_tones(sound):
                own = own | {(sound.root + 5) % 12}
            assert all(pitch % 12 in own for pitch in on_beats), (symbol, figure)
            assert all(abs(b - a) <= 2 for a, b in pairwise(line))
            assert len({b - a for a, b in pairwise(line)} & {1, -1}) == 1
        assert seen > 10


def steps_of_tones(sound):
    """Return a chord's own notes in semitones above its root."""
    return {(tone - sound.root) % 12 for tone in sound.tones}


def test_upper_triads_are_triads_of_strong_notes():
    """The first notes of an upper triad are those that its name spells (pychord), and the chord
    takes them all as tones or tensions on which the books agree."""
    names = set()
    for symbol, figure in drawings("upper_triad", counts=(3,), seeds=range(40)):
        triad = figure.why.split()[2]
        names.add((symbol, triad))
        spelt = {read(note).root for note in Spelt(triad).components()}
        assert set(figure.classes) == spelt
        assert spelt <= read(symbol).strong | read(symbol).tones
        assert spelt - read(symbol).tones
    # Every textbook has b13 1 #9 over a dominant to minor, b7 9 11 over a minor seventh.
    assert {("Dm7", "C"), ("A7", "F")} <= names


def test_arpeggios_rise_or_fall_in_thirds():
    """Three notes in a row at least lie a third or fourth apart (5 and 6 of a sixth
    chord, b13 and b7 of an altered, 4 and 5 of a suspended one: a step)."""
    for symbol, figure in drawings("arpeggio"):
        line = pitches(figure)
        apart = [abs(b - a) for a, b in pairwise(line)]
        least = 2 if any(name in symbol for name in ("6", "alt", "sus")) else 3
        assert any(least <= min(two) and max(two) <= 5 for two in pairwise(apart)), figure


def test_an_enclosure_reaches_its_target():
    """The note that the words name comes right after the notes that circle it, which lie above it
    and below it, within a whole step."""
    numbers = {"two": 2, "three": 3, "four": 4}
    seen = set()
    for symbol, figure in drawings("enclosure"):
        words = figure.why.split()
        circle = numbers[words[0]]
        seen.add(circle)
        line = pitches(figure)
        target = line[circle]
        assert words[4] in SPELLINGS[(target - read(symbol).root) % 12]
        around = [pitch - target for pitch in line[:circle]]
        assert min(around) < 0 < max(around)
        assert all(1 <= abs(step) <= 2 for step in around)
    assert seen == {2, 3, 4}


def test_colours_on_dominants_follow_the_resolution():
    """To a minor chord a dominant's altered figures hold b9, #9 or b13 and never a natural 9 or
    13; the whole-tone ones hold #11 or b13, half-whole and diminished ones b9 or #9."""
    told = {
        "altered": {1, 3, 8},
        "diminished": {1, 3},
        "whole_tone": {6, 8},
        "melodic_minor": {1, 6, 8},
    }
    for name, marks in told.items():
        for symbol, coming in (("A7", "Dm7"), ("A7", "Dmaj7"), ("Eb7", "Abm6")):
            for seed in range(12):
                figure = drawn(name, symbol, coming, 6, seed)
                if figure is None:
                    assert (name, coming == "Dmaj7") == ("whole_tone", False)
                    continue
                steps = set(steps_of(figure, symbol))
                assert steps & marks, figure
                if coming != "Dmaj7":
                    assert not steps & {2, 9}, figure


def test_half_steps_leaps_turns_and_riffs():
    """A chromatic run holds three half steps one way; a leap is a fourth to an octave and is
    answered by steps the other way; a turn comes back to its note; a riff says its cell again."""
    for _, figure in drawings("chromatic_run", counts=range(4, 10)):
        steps = [b - a for a, b in pairwise(pitches(figure))]
        assert any(trio in ([1, 1, 1], [-1, -1, -1]) for trio in windows(steps, 3)), figure
    for _, figure in drawings("leap_and_fill"):
        leap, *steps = [b - a for a, b in pairwise(pitches(figure))]
        assert 5 <= abs(leap) <= 12
        assert all(step * leap < 0 and abs(step) <= 4 for step in steps)
    for _, figure in drawings("turn", counts=(3,)):
        assert figure.classes[0] == figure.classes[2]
    for _, figure in drawings("riff", counts=(6, 9)):
        assert figure.classes[:3] == figure.classes[3:6]


BLUES = (("F7", "Bb7", "F"), ("Bb7", "F7", "F"), ("G7", None, None), ("Cm7", None, None))
"""A chord, what follows, and the key: I7 and IV7 of a blues, a dominant and a minor chord alone."""


def test_blues_licks_hold_blue_notes_and_leave_them_by_step_or_third():
    """Each blues lick holds b3, b5 or b7 of the key (of a chord without one), leaves it by a third
    at most and does not end on one that is no chord tone (common practice)."""
    for symbol, coming, key in BLUES:
        sound = read(symbol)
        home = read(key).root if key else sound.root
        own = (5,) if symbol == "Cm7" else (3,)
        blue = {(home + step) % 12 for step in (*own, 6, 10)}
        seen = 0
        for count in range(3, 10):
            for seed in range(6):
                figure = drawn(
                    "blues_lick", symbol, coming, count, seed, blues=key is not None, key=key
                )
                if figure is None:
                    continue
                seen += 1
                line = pitches(figure)
                assert blue & {pitch % 12 for pitch in line}, figure
                assert all(abs(b - a) <= 4 for a, b in pairwise(line) if a % 12 in blue), figure
                assert line[-1] % 12 in sound.tones or line[-1] % 12 not in blue
        assert seen > 20


CHAINS = (("Dm7", "G7", "Cmaj7"), ("Fmaj7", "Bb7", "Em7b5"), ("C7", "F7", "C7"), ("Am7", "Ab7"))


def test_riffs_and_pedals_give_way_only_where_a_chord_forbids_them():
    """Kept over changes, a riff or pedal moves none of its notes but those that are weak on their
    own chord, these by a minor third at most, and then all of it is strong there."""
    moved = 0
    for chain, name in product(CHAINS, KEPT):
        for seed in range(12):
            figure = drawn(name, chain[0], chain[1], 8, seed)
            if figure is None:
                continue
            chords = [Change(4.0 * n, parse_chord(s)) for n, s in enumerate(chain)]
            under = [chords[min(n * len(chords) // 8, len(chords) - 1)] for n in range(8)]
            bent, count = kept(figure, under)
            off = 0
            for old, new, change in zip(figure.steps, bent.steps, under, strict=True):
                sound = read(change.chord.symbol)
                root = chords[0].chord.root
                off += old != new
                assert (old != new) == (not sound.passes(root + old))
                assert abs(new - old) <= 3
                assert sound.passes(root + new)
            assert off == count
            assert len(bent.classes) == len(bent.directions) == 8
            moved += off
    assert moved > 20


def windows(row, size):
    """Return every stretch of ``size`` of a list."""
    return [row[i : i + size] for i in range(len(row) - size + 1)]


def test_trips_go_where_their_words_say():
    """A side-step lies a half step from the chord and is of its family; a substitute is a dominant
    a tritone away from a dominant, or the dominant of what comes (common practice)."""
    for symbol, figure in drawings("side_step"):
        assert figure.implied is not None
        home, away = read(symbol), read(figure.implied.symbol)
        assert (away.root - home.root) % 12 in (1, 11)
        assert {(tone - away.root) % 12 for tone in away.tones} == steps_of_tones(home)
    for symbol, figure in drawings("substitute"):
        assert figure.implied is not None
        home, away = read(symbol), read(figure.implied.symbol)
        coming = dict(PROGRESSIONS)[symbol]
        if 10 in steps_of_tones(home) and 4 in steps_of_tones(home):
            assert (away.root - home.root) % 12 == 6
        else:
            assert coming is not None
            assert (read(coming).root - away.root) % 12 == 5
