"""What every idiom must be, however it came about; and that habits are learnt."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from idiom_made import LAW, SEVENTH, corpus, eighths, line_of

from jam.idiom.backoff import idiom_of
from jam.idiom.blending import ENOUGH_NOTES, OWN, blended, filled
from jam.idiom.classes import interval_class
from jam.idiom.counts import Counts
from jam.idiom.learn import Played, learn
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.idiom.text import read_counts
from jam.idiom.words import told
from jam.session.idioms import find_idiom
from jam.transport.metre import Bars

SHAPES = {"steps": (5, 4, 4, 10, 12, 25), "first": (5, 4, 12), "last": (5, 12)}
PROBABILITIES = ("steps", "first", "last", "following", "opening", "closing")
QUANTILES = ("phrase_beats", "rest_beats", "sounding", "swing", "early_late")


def made(seed: int = 1, phrases: int = 40) -> Counts:
    """Return the counts of a made-up corpus."""
    return learn([corpus(np.random.default_rng(seed), phrases)])


def shipped() -> Idiom:
    return find_idiom("mainstream").value


IDIOMS = {
    "plain": plain_idiom,
    "shipped": shipped,
    "made": lambda: idiom_of(made(), name="made"),
    "blended": lambda: idiom_of(
        blended(made(phrases=3), read_counts(shipped().text, "shipped")), name="blended"
    ),
}


@pytest.mark.parametrize("name", IDIOMS)
def test_every_row_is_a_distribution(name: str) -> None:
    """Rows sum to 1, nothing is impossible, and shapes are as agreed."""
    idiom = IDIOMS[name]()
    count = len(idiom.patterns)
    shapes = {**SHAPES, "following": (4, count, count, count), "opening": (4, count)}
    for field in PROBABILITIES:
        table = getattr(idiom, field)
        assert table.shape == shapes.get(field, table.shape)
        assert np.allclose(table.sum(axis=-1), 1.0), field
        assert table.min() > 0.0, field
    assert count <= 64
    assert idiom.patterns[0] == ()
    for field in QUANTILES:
        assert (np.diff(getattr(idiom, field), axis=-1) >= 0).all(), field


@pytest.mark.parametrize("name", IDIOMS)
def test_tables_cannot_be_written_to(name: str) -> None:
    """An idiom is shared by all replies, so nobody may change it."""
    idiom = IDIOMS[name]()
    arrays = [getattr(idiom, f.name) for f in fields(idiom)]
    tables = [array for array in arrays if isinstance(array, np.ndarray)]
    assert len(tables) == 11
    for table in tables:
        with pytest.raises(ValueError, match="read-only"):
            table[...] = 0.0


def test_a_known_law_is_learnt() -> None:
    """Where a context was seen often, its probabilities are those that the notes were drawn by."""
    counts = made(phrases=400)
    idiom = idiom_of(counts, name="made")
    seen = np.zeros((10, 12))
    for (family, place, gap, reached, degree, _), times in counts.steps.items():
        if (family, place, gap) == (2, 2, 1):
            seen[reached, degree] += times
    often = np.argwhere(seen >= 60)
    assert len(often) > 10
    for reached, degree in often:
        away = np.abs(idiom.steps[2, 2, 1, reached, degree] - LAW[reached]).sum() / 2
        assert away < 0.25, (reached, degree, away)
    by_class = (idiom.steps[2, 2, 1] * seen[..., None]).sum(axis=1)
    for reached in sorted({int(r) for r, _ in often}):
        row = by_class[reached] / by_class[reached].sum()
        assert np.abs(row - LAW[reached]).sum() / 2 < 0.12, reached


def test_what_was_never_seen_leans_on_the_chain() -> None:
    """In a context without counts the intervals that the law allows after that class come first."""
    idiom = idiom_of(made(), name="made")
    row = idiom.steps[1, 0, 1, interval_class(7), 3]
    likely = {int(way) - 12 for way in np.argsort(row)[-2:]}
    assert likely == {-1, -2}


def test_more_playing_outweighs_the_broader_habit() -> None:
    """The same habit seen ten times as often comes nearer to certain."""
    pitches = [60, 62, 64, 62, 60, 62, 64, 62, 60]
    said = Played(tuple(line_of(eighths(9, bar), pitches) for bar in (0, 2)), SEVENTH, 120.0)
    few, many = (idiom_of(learn([said] * times), name="made") for times in (1, 20))
    key = (2, 1, 1, interval_class(2), 2, 2 + 12)
    assert 0.1 < few.steps[key] < many.steps[key]
    assert many.steps[key] > 0.6


def test_little_playing_is_laid_over_the_shipped_idiom() -> None:
    """One's own habit is told from theirs where it was shown; elsewhere theirs hold."""
    base = read_counts(shipped().text, "shipped")
    line = line_of(eighths(40), [60, 66] * 20)
    own = learn([Played((line,), SEVENTH, 120.0)])
    assert own.notes < ENOUGH_NOTES
    both = blended(own, base)
    assert (both.notes, both.phrases) == (40, 1)
    key = (2, 2, 1, interval_class(-6), 0, 18)
    assert both.steps[key] == OWN * own.steps[key] + base.steps[key]
    theirs, mine = idiom_of(base, name="base"), idiom_of(both, name="both")
    assert mine.steps[key] > 5 * theirs.steps[key]
    assert np.abs(mine.steps[1, 0, 1, 7, 0] - theirs.steps[1, 0, 1, 7, 0]).sum() < 0.1
    assert mine.windows == own.windows | base.windows
    assert np.array_equal(mine.swing, theirs.swing)


def test_a_pattern_of_ones_own_survives_the_blending() -> None:
    """A beat that the shipped idiom does not know is kept where one plays it all the time."""
    base = read_counts(shipped().text, "shipped")
    odd = (1, 5, 11)
    assert odd not in base.patterns
    own = Counts(40, 1, patterns=((), odd), spreads={name: [] for name in base.spreads})
    own.beats[1, 1, 1, 1] += 30
    own.opening[1, 1] += 1
    own.closing[1, 1] += 1
    own.spreads.update({name: [[]] * len(rows) for name, rows in base.spreads.items()})
    idiom = idiom_of(blended(own, base), name="both")
    number = idiom.patterns.index(odd)
    assert idiom.following[1, number, number, number] > 0.5
    assert len(idiom.patterns) <= 64


def test_spreads_that_were_never_measured_are_filled() -> None:
    """Where nothing was measured in any class the base's figures stand in, and no others."""
    base, own = read_counts(shipped().text, "shipped"), made(phrases=9)
    own.spreads["rest_beats"][:] = [[], [], [], []]
    full = filled(own, base)
    assert full.spreads["rest_beats"] == base.spreads["rest_beats"]
    assert full.spreads["phrase_beats"] == own.spreads["phrase_beats"]


def test_playing_in_twelve_eight_takes_the_beats_of_others() -> None:
    """Its beats are not counted in quarters, so a line that has no other ones gets the base's."""
    ticks = [6 * k for k in range(24)]
    line = line_of(ticks, [60, 62, 64, 62] * 6)
    own = learn([Played((line, line), SEVENTH, 120.0, Bars(6.0), 1.5)])
    assert own.patterns == ((),)
    assert {key[1] for key in own.steps} <= {0, 1, 2, 3}
    base = read_counts(shipped().text, "shipped")
    full = filled(own, base)
    assert (full.patterns, full.beats) == (base.patterns, base.beats)
    assert full.steps == own.steps


def test_the_words_tell_shares_and_usual_degrees() -> None:
    """Steps, thirds, leaps and repeats are told in per cent of all intervals."""
    line = line_of(eighths(9), [60, 62, 65, 65, 60, 62, 61, 60, 62])
    text = told(learn([Played((line,) * 6, SEVENTH, 120.0)]))
    assert text.startswith("54 notes in 6 phrases")
    # 2, 3, 0, -5, 2, -1, -1, 2: five steps, one third, one leap, one repeat of eight
    assert "steps 62 %, thirds 12 %, leaps 12 %, repeats 12 %" in text
    assert "begins on 1 (dominant)" in text
    assert "ends on 9 (dominant)" in text
