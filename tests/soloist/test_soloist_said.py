"""What is said of an idea, as laws over whole replies: where it is set, where its sequences go, and
that the words of the log are true of the notes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby, pairwise

import numpy as np
import pytest
from soloist_asking import STYLES, in_bars, plain_request, random_call

from jam.events import PlannedNote
from jam.players.soloist.chord_tables import Tables
from jam.players.soloist.moves import SEQUENCES, interval_words
from jam.players.soloist.places import places
from jam.players.soloist.request import Reply, Request
from jam.players.soloist.setting import set_idea
from jam.players.soloist.slots import TICKS, Slot
from jam.players.soloist.soloist import answer
from jam.players.soloist.telling import words_of
from jam.styles.profile import Style
from jam.transport.metre import Bars

STATEMENTS = 100
"""Groups of slots below this number are statements of an idea."""

Said = list[tuple[Slot, PlannedNote]]


def style_of(name: str = "bop", *, riffs: float = 0.0, **weights: float) -> Style:
    """Return a style with other weights of some moves."""
    style = STYLES[name]
    idea = style.idea.model_copy(update={"moves": {**style.idea.moves, **weights}})
    rhythm = style.rhythm.model_copy(update={"riffs": riffs})
    return style.model_copy(update={"idea": idea, "rhythm": rhythm})


def replies(style: Style, count: int = 60, **changed: object) -> Iterator[tuple[Request, Reply]]:
    """Yield requests with calls drawn by chance, and their replies."""
    for seed in range(count):
        call = random_call(np.random.default_rng((seed, 3)), -0.5, Bars())
        request = plain_request(style=style, call=call, seed=(seed, 5), **changed)
        yield request, answer(request)


def statements(reply: Reply) -> list[Said]:
    """Return the statements of a reply with their notes, in order."""
    pairs = [(s, n) for s, n in zip(reply.slots, reply.notes, strict=True) if isinstance(s, Slot)]
    parts = [list(part) for _, part in groupby(pairs, key=lambda pair: pair[0].group)]
    return [part for part in parts if part[0][0].group < STATEMENTS and not part[0][0].place]


def by_words(said: Said) -> str:
    return said[0][1].why.split(";")[0]


def bent(said: Said) -> list[int]:
    """Return by how much each interval that was asked for was bent."""
    return [
        abs(after.pitch - before.pitch - slot.wanted)
        for (_, before), (slot, after) in pairwise(said)
        if slot.wanted is not None
    ]


# --- words --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bop", "blues", "river", "tangle"])
def test_a_sequence_lies_where_its_words_say(name):
    """Up a third: of its first three notes the middle one has moved by three or four semitones from
    where the idea stood last; exact means that all
    notes have moved alike."""
    seen = 0
    for _, reply in replies(style_of(name, sequence=1.0, real_sequence=1.0)):
        parts = statements(reply)
        for before, said in pairwise(parts):
            if said[0][0].move not in SEQUENCES:
                continue
            words = by_words(said)
            heads = zip(before[:3], said[:3], strict=False)
            moves = sorted(b.pitch - a.pitch for (_, a), (_, b) in heads)
            assert f"your idea {interval_words(moves[(len(moves) - 1) // 2])}" in words
            moved = {b.pitch - a.pitch for (_, a), (_, b) in zip(before, said, strict=False)}
            assert words.endswith(", exact") <= (len(moved) == 1)
            seen += 1
    assert seen > 20


def test_most_sequences_go_where_they_were_meant_to_go():
    """The first note lies within a half step of where the sequence was to begin, three times in
    four; a tonal one keeps its steps steps and its thirds thirds."""
    near, kept = [], []
    for _, reply in replies(style_of(sequence=1.0), 120):
        for said in statements(reply):
            slot, note = said[0]
            if slot.move == "sequence" and slot.wanted_pitch is not None:
                near.append(abs(note.pitch - slot.wanted_pitch) <= 1)
                kept += [size <= 1 for size in bent(said)]
    assert len(near) > 60
    assert np.mean(near) > 0.75
    assert np.mean(kept) > 0.9


def test_a_riff_is_the_same_again():
    """Two sayings of a riff have the same contour, and most of them the same intervals."""
    same, contours = [], []
    for _, reply in replies(style_of("blues", riffs=1.0, restate=1.0), 160):
        riffs = [part for part in statements(reply) if "the same riff" in by_words(part)]
        for one, other in pairwise(riffs):
            steps = [
                [b.pitch - a.pitch for (_, a), (_, b) in pairwise(part)] for part in (one, other)
            ]
            size = min(map(len, steps))
            same.append(steps[0][:size] == steps[1][:size])
            contours.append(list(np.sign(steps[0][:size])) == list(np.sign(steps[1][:size])))
    assert len(same) > 20
    assert np.mean(contours) > 0.8
    assert np.mean(same) > 0.45


def test_what_is_hardly_left_of_an_idea_is_said_freely():
    """With fewer than six intervals of ten kept to the half step the words say so."""
    steps = (None, 2, 2, -1, -2, -2)
    slots = [
        Slot(6 * n, 6, "restate", 0, n, wanted=step, firm=50, why="your idea again")
        for n, step in enumerate(steps)
    ]
    true = [60, 62, 64, 63, 61, 59]
    assert set(words_of(slots, true)) == {"your idea again"}
    assert set(words_of(slots, [60, 62, 64, 63, 67, 60])) == {"your idea again"}
    assert set(words_of(slots, [60, 67, 64, 70, 61, 68])) == {"your idea again, freely"}


def test_free_notes_say_how_they_go_on():
    """A note of a run names the way it moved; the first after a rest sets out."""
    slots = [Slot(6 * n, 6, "run", 100, n) for n in range(3)] + [Slot(60, 6, "run", 101)]
    assert words_of(slots, [60, 62, 58, 65])[1:] == [
        "on from there, a step up",
        "on from there, a third down",
        "",
    ]


# --- where an idea is set -----------------------------------------------------------------


def test_an_idea_is_set_where_it_suits_its_chords():
    """Over a chord a tritone away from where it was said, most sayings are moved so that more of
    the idea's notes are strong than as it stood."""
    steps = (None, 4, 3, 4)
    slots = [
        Slot(6 * n, 6, "restate", 0, n, wanted=s, firm=50, wanted_pitch=None if n else 60)
        for n, s in enumerate(steps)
    ]
    request = plain_request(changes=in_bars("Gbmaj7|Gbmaj7|Gbmaj7|Gbmaj7"), key=None)
    strong = request.changes.at(0.0).chord.strong
    better = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        start = set_idea(request, slots, Tables(request), 0.0, rng)[0].wanted_pitch
        assert start is not None
        assert request.style.instrument.low <= start <= request.style.instrument.high
        now = sum((start + step) % 12 in strong for step in (0, 4, 7, 11))
        better += now > sum(step % 12 in strong for step in (0, 4, 7, 11))
    assert better > 50


def test_a_stock_phrase_keeps_its_degrees():
    """A recipe is moved by octaves only."""
    slots = [
        Slot(6 * n, 6, "recipe", 0, n, wanted=step, firm=90, wanted_pitch=None if n else 61)
        for n, step in enumerate((None, 1, 1, 1))
    ]
    request = plain_request()
    for seed in range(20):
        moved = set_idea(request, slots, Tables(request), 0.0, np.random.default_rng(seed))
        assert moved[0].wanted_pitch is not None
        assert moved[0].wanted_pitch % 12 == 1


# --- question and answer ------------------------------------------------------------------


def test_an_answer_comes_last():
    """Where a reply ends with the question and another end, its last note is the answer's."""
    seen = 0
    for _, reply in replies(style_of("lyrical", answer=1.0), 160):
        told = [note.move == "answer" for note in reply.notes]
        if any(told):
            assert told[-1]
            seen += 1
    assert seen > 10


# --- a chord that lasts one pulse -----------------------------------------------------------


def test_a_note_a_pulse_after_a_silent_chord_is_strong_on_both():
    """A chord of one pulse that passes in silence: the note on the next change lands on both."""
    changes = in_bars("Cmaj7|A7|Dm7 G7|Cmaj7", bar_beats=2.0)
    request = plain_request(changes=changes)
    slots = [Slot(18, 6, "run", 1), Slot(5 * TICKS, 6, "run", 1), Slot(6 * TICKS, 6, "run", 1)]
    where = places(request, slots)
    assert where[1].lands
    assert where[1].owed is not None
    assert where[1].owed.chord.symbol == "Dm7"
    heard = [Slot(18, 6, "run", 1), Slot(54, 4, "run", 1), *slots[1:]]
    assert places(request, heard)[2].owed is None
