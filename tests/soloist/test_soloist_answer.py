"""A reply keeps the hard rules, whatever is asked; one seed gives one reply; another key gives
the same reply in that key; less effort gives a plainer reply, never none."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from soloist_asking import (
    KEYS,
    METRES,
    ROOTS,
    STYLES,
    SUFFIXES,
    described,
    in_bars,
    placed,
    plain_request,
    random_call,
    requests,
)
from soloist_rules import EPS, Judge

from jam.harmony.keys import Key, parse_key
from jam.harmony.symbols import parse_chord
from jam.players.soloist.request import Request, Window
from jam.players.soloist.soloist import MOST_ROUNDS, answer, pattern
from jam.styles.profile import Recipe
from jam.transport.metre import Bars

RULES = settings(
    max_examples=80,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
AS_ASKED = ("chord tone", "tension", "anticipation", "leaning", "approach", "blue", "free")
LITTLE = 1
"""Effort for one line and no more."""


@pytest.mark.slow
@RULES
@given(requests())
def test_hard_rules_hold(request_):
    """H1 to H5 hold, judged by chord symbols alone (see `soloist_rules`)."""
    reply = answer(request_)
    assert reply.notes
    assert Judge(request_, reply.notes, spans=reply.spans).breaches() == []


@pytest.mark.slow
@RULES
@given(requests())
def test_roles_are_what_the_notes_are(request_):
    """A role claims nothing that the chord symbol denies: chord tones and tensions are strong,
    approaches are not, and blue notes stand only in a blues."""
    reply = answer(replace(request_, effort=LITTLE))
    judge = Judge(request_, reply.notes, spans=reply.spans)
    for index, note in enumerate(reply.notes):
        assert note.role in AS_ASKED
        if judge.change(note.beat).chord.is_none:
            continue
        if note.role in ("chord tone", "tension"):
            assert judge.strong(index)
        if note.role == "anticipation":
            assert judge.anticipates(index)
        if note.role == "blue":
            assert judge.blue(index)


@pytest.mark.slow
@RULES
@given(requests())
def test_sounding_times_and_velocities(request_):
    """No note sounds into the next, none lies further than a fifth of a beat from its place on
    the grid, and velocities are MIDI's 1 to 127 (0 would end the note: MIDI 1.0)."""
    notes = answer(replace(request_, effort=LITTLE)).notes
    for note in notes:
        assert note.sounds_beats > 0.02
        assert abs(note.sounds_beat - note.beat) <= 0.2 + EPS
        assert 1 <= note.velocity <= 127
    for note, following in pairwise(notes):
        assert note.sounds_beat < following.sounds_beat
        assert note.sounds_beat + note.sounds_beats <= following.sounds_beat + EPS


@pytest.mark.slow
@settings(max_examples=8, deadline=None, derandomize=True)
@given(requests())
def test_one_seed_one_reply(request_):
    """The same question with the same seed gets the same reply, note for note."""
    assert answer(request_) == answer(request_)


@pytest.mark.parametrize("style", sorted(STYLES))
def test_another_seed_another_reply(style):
    """Twelve seeds give at least eleven different replies."""
    request = plain_request(
        style=STYLES[style], call=random_call(_rng(3), -0.5, Bars()), effort=LITTLE
    )
    replies = {
        tuple((n.beat, n.pitch) for n in answer(replace(request, seed=(seed,))).notes)
        for seed in range(12)
    }
    assert len(replies) >= 11


# --- transposition -----------------------------------------------------------------------


def transposed(request: Request, steps: int) -> Request:
    """Return the question ``steps`` semitones higher: call, changes, key and range."""
    instrument = request.style.instrument
    moved = instrument.model_copy(
        update={"low": instrument.low + steps, "high": instrument.high + steps}
    )
    key = request.key
    changes = placed(
        [(c.beat, _moved_chord(c.chord, steps), c.passing) for c in request.changes],
        None if key is None else _moved_key(key, steps),
        blues=request.blues,
    )
    call = request.call
    return replace(
        request,
        style=request.style.model_copy(update={"instrument": moved}),
        changes=changes,
        key=None if key is None else _moved_key(key, steps),
        call=None
        if call is None
        else replace(
            call,
            notes=tuple(replace(note, pitch=note.pitch + steps) for note in call.notes),
            low=call.low + steps,
            high=call.high + steps,
        ),
    )


def _moved_chord(chord, steps):
    if chord.is_none:
        return chord
    tail = chord.symbol[len(chord.root_name) :].split("/")[0]
    bass = f"/{ROOTS[(chord.bass + steps) % 12]}" if "/" in chord.symbol else ""
    return parse_chord(ROOTS[(chord.root + steps) % 12] + tail + bass)


def _moved_key(key: Key, steps: int) -> Key:
    return parse_key(ROOTS[(key.tonic + steps) % 12] + (" minor" if key.minor else " major"))


@pytest.mark.slow
@settings(max_examples=20, deadline=None, derandomize=True)
@given(requests(), st.integers(-11, 11).filter(bool))
def test_another_key_the_same_reply_in_that_key(request_, steps):
    """Call, changes, key and range moved by so many semitones move every note of the reply by as
    many, and nothing else. (Costs are laid out from the bottom of the range, so the law is exact
    when the range moves too; with a fixed range the register pulls elsewhere.)"""
    request_ = replace(request_, effort=3000)
    here, there = answer(request_), answer(transposed(request_, steps))
    assert [n.pitch + steps for n in here.notes] == [n.pitch for n in there.notes]
    unmoved = [
        [(n.beat, n.beats, n.velocity, n.sounds_beat, n.sounds_beats, n.role, n.move)]
        for n in here.notes
    ]
    assert unmoved == [
        [(n.beat, n.beats, n.velocity, n.sounds_beat, n.sounds_beats, n.role, n.move)]
        for n in there.notes
    ]


# --- call, recipes, effort ---------------------------------------------------------------


@pytest.mark.parametrize("style", sorted(STYLES))
def test_without_a_call_a_stock_phrase_of_the_style(style):
    """Nothing to take up: the reply names one of the style's recipes and begins with its degrees'
    rhythm; with a call it never does."""
    names = {recipe.name: recipe for recipe in STYLES[style].recipes}
    used = set()
    for seed in range(12):
        reply = answer(plain_request(style=STYLES[style], seed=(seed,), effort=LITTLE))
        said = [n for n in reply.notes if n.move == "recipe"]
        name = reply.idea.split("'")[1]
        used.add(name)
        assert name in names
        inline = isinstance(names[name], Recipe)
        if inline and len(said) == len(names[name].beats):
            gaps = [b.beat - a.beat for a, b in pairwise(said)]
            wanted = [max(2, round(beats * 12)) / 12 for beats in names[name].beats[:-1]]
            assert gaps == pytest.approx(wanted, abs=0.09)
        call = random_call(_rng(seed), -0.5, Bars())
        assert "stock phrase" not in answer(plain_request(call=call, effort=LITTLE)).idea
    assert len(used) > 1


def test_a_call_without_cells_is_answered():
    """Two notes are no cell: the reply falls back on a recipe, as with silence."""
    call = described([(-4.0, 1.0, 60), (-2.0, 1.0, 67)], Bars())
    assert call.cells == ()
    assert "stock phrase" in answer(plain_request(call=call)).idea


def test_a_style_without_recipes_still_answers():
    """Neither call nor recipe: a line of its own."""
    style = STYLES["bop"].model_copy(update={"recipes": []})
    request = plain_request(style=style)
    reply = answer(request)
    assert reply.notes
    assert Judge(request, reply.notes, spans=reply.spans).breaches() == []


@pytest.mark.parametrize("effort", [0, 1, 2000, 20_000, 10**9])
def test_any_effort_gives_a_reply_by_the_rules(effort):
    """Granting little gives a feasible line all the same; what was used is told, grows with what
    is granted, and passes it by no more than one candidate line."""
    for name in sorted(STYLES):
        style = STYLES[name]
        size = style.instrument.high - style.instrument.low + 1
        call = random_call(_rng(5), -0.5, Bars())
        request = plain_request(style=style, call=call, effort=effort)
        reply = answer(request)
        assert Judge(request, reply.notes, spans=reply.spans).breaches() == []
        most = answer(replace(request, effort=10**9))
        assert reply.effort <= most.effort <= MOST_ROUNDS * 90 * size
        assert reply.effort <= effort + 90 * size
        assert reply.effort % size == 0
        assert (reply.effort == 0) == (effort == 0)


def test_without_effort_the_plain_line():
    """No effort at all: one strong note near each change, at once."""
    reply = answer(plain_request(effort=0, call=random_call(_rng(5), -0.5, Bars())))
    assert {note.role for note in reply.notes} <= {"chord tone", "tension"}
    assert {note.move for note in reply.notes} == {"landing"}
    assert {note.beat for note in reply.notes} >= {4.0, 8.0, 12.0}


def test_fifty_seeds_fifty_replies():
    """The same call with 50 seeds gets at least 45 different replies."""
    call = random_call(_rng(3), -0.5, Bars())
    replies = {
        tuple((n.beat, n.pitch) for n in answer(plain_request(call=call, seed=(seed,))).notes)
        for seed in range(50)
    }
    assert len(replies) >= 45


@pytest.mark.slow
def test_more_effort_finds_lines_that_say_the_same_less_often():
    """What was played lately weighs against a candidate: with effort to choose from, fewer replies
    share a six-note pattern with the last one than without."""

    def repeats(effort: int) -> int:
        count = 0
        for seed in range(30):
            call = random_call(_rng(seed), -0.5, Bars())
            request = plain_request(seed=(seed,), call=call, effort=LITTLE)
            said = pattern([n.pitch for n in answer(request).notes])
            again = replace(request, effort=effort, recent=(said,))
            line = pattern([n.pitch for n in answer(again).notes])
            old = {said[i : i + 5] for i in range(len(said) - 4)}
            count += sum(line[i : i + 5] in old for i in range(len(line) - 4))
        return count

    assert repeats(20_000) < 0.5 * repeats(LITTLE)


# --- odd places --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "symbols",
    [
        "N.C.|N.C.|N.C.|N.C.|N.C.|N.C.",
        "N.C.|N.C.|Dm7|N.C.|G7|N.C.",
        "Dm7|Dm7|Dm7|Dm7|Dm7|Dm7",
        "C Db D Eb|E F Gb G|Ab A Bb B|C Db D Eb|E F Gb G|Ab A Bb B",
        "C7alt|F#7alt|B7alt|E7alt|A7alt|D7alt",
        "Dphrygian|Dphrygian|Elocrian|Elocrian|Flydian|Flydian",
        "C/F#|Db/G|D/Ab|Eb/A|E/Bb|F/B",
    ],
)
def test_odd_progressions(symbols):
    """No chord, one chord, a chord on every beat, altered ones only, modes, far slash chords."""
    for seed in range(8):
        style = STYLES[sorted(STYLES)[seed % len(STYLES)]]
        changes = in_bars(symbols, start=-4.0)
        request = plain_request(
            changes=changes, style=style, seed=(seed,), key=None, call=_some_call(seed)
        )
        reply = answer(request)
        assert Judge(request, reply.notes, spans=reply.spans).breaches() == []


@pytest.mark.slow
def test_a_blues():
    """Twelve bars of blues in F with ii-V's, blue notes allowed and liked: the rules hold, and
    blue notes are heard."""
    blues = "F6|Em7b5 A7|Dm7 G7|Cm7 F7|Bb7|Bbm7 Eb7|Am7|D7|Gm7|C7|F6 D7|Gm7 C7|F6"
    lines = STYLES["blues"].lines.model_copy(update={"blue": 1.0, "approach": 1.0})
    style = STYLES["blues"].model_copy(update={"lines": lines})
    rows = [(c.beat, c.chord, c.passing) for c in in_bars(blues)]
    key = parse_key("F major")
    heard = 0
    for seed in range(60):
        start = 16.0 * (seed % 3)
        request = plain_request(
            changes=placed(rows, key, blues=True),
            window=Window(start, start + 16.0, start - 1.0, start + 17.0),
            style=style,
            key=key,
            blues=True,
            seed=(seed,),
            effort=LITTLE,
        )
        reply = answer(request)
        notes = reply.notes
        assert Judge(request, notes, spans=reply.spans).breaches() == []
        heard += sum(note.role == "blue" for note in notes)
    assert heard > 60


@pytest.mark.parametrize("metre", METRES, ids=str)
def test_short_turns(metre):
    """A window of two beats, of a bar, of a bar and a half has a reply by the rules."""
    bars = Bars(metre.bar_beats)
    for seed in range(8):
        for length in (2.0, metre.bar_beats, 1.5 * metre.bar_beats):
            changes = in_bars("Dm7|G7|Cm7|F7|Bbmaj7|Eb7", metre.bar_beats, -metre.bar_beats)
            window = Window(0.0, length, -metre.pulse_beats, length + metre.pulse_beats)
            request = plain_request(
                changes=changes,
                window=window,
                bars=bars,
                pulse_beats=metre.pulse_beats,
                seed=(seed,),
                style=STYLES[sorted(STYLES)[seed % len(STYLES)]],
                call=_some_call(seed),
            )
            reply = answer(request)
            assert Judge(request, reply.notes, spans=reply.spans).breaches() == []


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_every_family_alone(suffix):
    """A turn over one chord of any family, in any key or none."""
    for number, key in enumerate(KEYS):
        root = ROOTS[(5 * number) % 12]
        request = plain_request(
            changes=in_bars(f"{root}{suffix}", start=-4.0),
            key=parse_key(key) if key else None,
            seed=(number,),
            effort=LITTLE,
        )
        reply = answer(request)
        assert Judge(request, reply.notes, spans=reply.spans).breaches() == []


def _rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


def _some_call(seed: int):
    return random_call(_rng(seed), -0.5, Bars()) if seed % 2 else None
