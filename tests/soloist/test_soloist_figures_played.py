"""Figures in replies: the hard rules hold whatever the vocabulary, trips are declared, and the
style's weights are heard."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from soloist_asking import STYLES, in_bars, plain_request, requests
from soloist_rules import Judge

from jam.players.soloist.soloist import answer
from jam.styles.names import FIGURES

RULES = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
OUTSIDE = ("side_step", "substitute")


def saying(style, **weights):
    """Return the style with no figures but the ones given."""
    vocabulary = {name: weights.get(name, 0.0) for name in FIGURES}
    return style.model_copy(update={"vocabulary": vocabulary})


@pytest.mark.slow
@RULES
@given(requests(), st.sampled_from([OUTSIDE, *((name,) for name in FIGURES)]))
def test_hard_rules_hold_with_any_vocabulary(request_, names):
    """H1 to H5 hold when a style says one figure only, trips out of the chord included; a note
    that claims to be free lies in a declared span."""
    style = saying(request_.style, **dict.fromkeys(names, 1.0))
    reply = answer(replace(request_, style=style))
    judge = Judge(request_, reply.notes, spans=reply.spans)
    assert judge.breaches() == []
    for note in reply.notes:
        assert (note.role == "free") == (judge.implied(note.beat) is not None)


@pytest.mark.slow
def test_trips_are_taken_and_declared():
    """A style of side-steps and substitutes takes them where the harmony stands, and says so."""
    style = saying(STYLES["bop"], side_step=1.0, substitute=1.0)
    chords = Counter()
    for number, symbols in enumerate(("Dm7|Dm7|Dm7|Dm7|Dm7", "Cmaj7|Cmaj7|A7|A7|Dm7")):
        changes = in_bars(symbols, key="C major")
        for seed in range(40):
            request = plain_request(changes=changes, style=style, seed=(seed, number))
            reply = answer(request)
            assert Judge(request, reply.notes, spans=reply.spans).breaches() == []
            chords.update(span.chord.symbol for span in reply.spans)
    assert chords["Ebm7"] + chords["C#m7"] > 3
    assert chords["Eb7"] + chords["A7"] > 1


@pytest.mark.slow
def test_what_a_style_says_is_heard():
    """Figures are what the vocabulary holds, at least one note in twelve; without any there is
    none."""
    for weights in ({"arpeggio": 1.0, "turn": 1.0}, {}):
        style = saying(STYLES["bop"], **weights)
        said, notes = Counter(), 0
        for seed in range(30):
            reply = answer(plain_request(style=style, seed=(seed, 2)))
            notes += len(reply.notes)
            said.update(note.move for note in reply.notes if note.move in FIGURES)
        assert set(said) == set(weights)
        assert sum(said.values()) >= notes / 12 or not weights


@pytest.mark.slow
def test_the_heavier_of_two_is_heard_more_often():
    """Turns at nine times the weight of thirds are played twice as often at least, and what weighs
    nothing never."""
    style = saying(STYLES["bop"], turn=0.9, thirds=0.1)
    told = Counter()
    for seed in range(60):
        told.update(
            {note.move for note in answer(plain_request(style=style, seed=(seed, 4))).notes}
        )
    assert told["turn"] >= 2 * told["thirds"] > 0
    assert not set(told) & (set(FIGURES) - {"turn", "thirds"})


@pytest.mark.slow
@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_a_style_likes_is_heard(name):
    """A figure with a weight of a half among others of a half is played in one reply of ten at
    least where its chords come up (side-steps need a chord that stands)."""
    style = saying(STYLES["bop"], **dict.fromkeys((name, "arpeggio", "turn", "scale_run"), 0.5))
    heard = 0
    for number, symbols in enumerate(("Dm7|G7|Cmaj7|Cmaj7|A7", "Dm7|Dm7|Dm7|G7|Cmaj7")):
        changes = in_bars(symbols, key="C major")
        for seed in range(25):
            reply = answer(plain_request(changes=changes, style=style, seed=(seed, number, 7)))
            heard += any(note.move == name for note in reply.notes)
    assert heard >= 5


def test_a_riff_runs_on_over_the_change():
    """In a style of riffs alone some riff is said over more than one chord."""
    style = saying(STYLES["bop"], riff=1.0)
    across = 0
    for seed in range(30):
        reply = answer(plain_request(style=style, seed=(seed, 3)))
        riffs = [note.chord for note in reply.notes if note.move == "riff"]
        across += len(set(riffs)) > 1
    assert across > 5
