"""Each move of the conversation, as a law on the statement that it makes."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jam.players.soloist import moves
from jam.players.soloist.slots import TICKS
from jam.players.soloist.statement import Statement

LAWS = settings(max_examples=80, deadline=None, derandomize=True)


@st.composite
def statements(draw: st.DrawFn, least: int = 3) -> Statement:
    """Statements of three to ten notes, on eighths, triplets and quarters."""
    count = draw(st.integers(least, 10))
    gaps = draw(st.lists(st.sampled_from((4, 6, 6, 12)), min_size=count, max_size=count))
    steps = draw(st.lists(st.integers(-7, 7), min_size=count - 1, max_size=count - 1))
    onsets = (0, *itertools.accumulate(gaps[:-1]))
    lates = tuple(0.01 * n for n in range(count))
    return Statement(
        "restate", tuple(onsets), tuple(gaps), (None, *steps), phase=6, start=66, lates=lates
    )


def sound(said: Statement) -> None:
    """A statement is whole: onsets rise, lengths are positive, all rows are as long."""
    assert len(said.onsets) == len(said.lengths) == len(said.intervals)
    assert said.onsets[0] == 0
    assert all(a < b for a, b in itertools.pairwise(said.onsets))
    assert min(said.lengths) > 0
    assert said.intervals[0] is None
    assert len(said.lates) in (0, len(said))


def whole(said: Statement) -> int:
    """The interval from the first note to the last."""
    return sum(step for step in said.intervals if step is not None)


@LAWS
@given(statements())
def test_inversion_and_retrograde_twice_are_nothing(said):
    """Turned upside down twice, or said backwards twice, an idea is as it was."""
    for move in (moves.invert, moves.retrograde):
        once = move(said)
        sound(once)
        assert move(once).intervals == said.intervals
        assert once.onsets == said.onsets
    assert moves.retrograde(said).start == 66 + whole(said)


@LAWS
@given(statements(), st.integers(-7, 7))
def test_sequence_moves_the_whole_idea(said, step):
    """A sequence keeps rhythm and intervals and begins elsewhere; only a tonal one may bend."""
    tonal, real = (moves.sequence(said, step, real=real) for real in (False, True))
    assert tonal.intervals == real.intervals == said.intervals
    assert tonal.start == real.start == 66 + step
    assert (tonal.tonal, real.tonal) == (True, False)
    assert (tonal.move, real.move) == ("sequence", "real_sequence")


@LAWS
@given(statements())
def test_rhythm_without_pitches_and_pitches_without_rhythm(said):
    """Same rhythm frees every pitch; same pitches keep every interval in the gaps given."""
    assert set(moves.same_rhythm(said).intervals) == {None}
    assert moves.same_rhythm(said).onsets == said.onsets
    other = moves.same_pitches(said, (4, 8))
    sound(other)
    assert other.intervals == said.intervals
    gaps = [b - a for a, b in itertools.pairwise(other.onsets)]
    assert gaps == list(itertools.islice(itertools.cycle((4, 8)), len(gaps)))


@LAWS
@given(statements())
def test_longer_and_shorter_notes(said):
    """Augmentation doubles every time, or there is none past two bars; diminution halves, or there
    is none where a note would be too short. One undoes the other."""
    longer = moves.augment(said)
    if longer is None:
        assert 2 * said.span > moves.LONGEST
    else:
        sound(longer)
        assert longer.onsets == tuple(2 * onset for onset in said.onsets)
        back = moves.diminish(longer)
        assert back is not None
        assert back.onsets == said.onsets
    shorter = moves.diminish(said)
    assert (shorter is None) == any(
        gap // 2 < 3 for gap in (b - a for a, b in itertools.pairwise(said.onsets))
    )


@LAWS
@given(statements(), st.integers(2, 6))
def test_fragments_are_the_head_or_the_tail(said, count):
    """A head keeps the first notes, a tail the last, each with its own intervals and start."""
    count = min(count, len(said))
    head, tail = moves.fragment(said, count), moves.fragment(said, count, tail=True)
    sound(head)
    sound(tail)
    assert head.intervals[1:] == said.intervals[1:count]
    assert tail.intervals[1:] == said.intervals[len(said) - count + 1 :]
    assert tail.start == 66 + whole(said) - whole(tail)
    assert tail.phase == said.phase + said.onsets[-count]


@LAWS
@given(statements(), st.integers(1, 3))
def test_extension_goes_on_as_the_idea_ends(said, count):
    """The last interval and the last gap come so many times more."""
    more = moves.extend(said, count)
    assert len(more) == len(said) + count
    assert set(more.intervals[len(said) :]) == {said.intervals[-1]}
    gaps = [b - a for a, b in itertools.pairwise(more.onsets)]
    assert set(gaps[len(said) - 1 :]) == {said.onsets[-1] - said.onsets[-2]}


@LAWS
@given(statements())
def test_interpolation_fills_thirds_and_keeps_the_ends(said):
    """Passing notes come between notes a third apart; the idea ends when and where it did."""
    filled = moves.interpolate(said)
    sound(filled)
    assert whole(filled) == whole(said)
    assert filled.onsets[-1] == said.onsets[-1]
    assert set(said.onsets) <= set(filled.onsets)


@LAWS
@given(statements(least=4), st.integers(0, 10_000))
def test_variation_changes_little(said, seed):
    """At most a note goes, or an interval is bent by a step or left open; nothing is left empty."""
    other = moves.vary(said, np.random.default_rng(seed))
    sound(other)
    assert len(said) - 1 <= len(other) <= len(said)
    if len(other) == len(said):
        pairs = zip(said.intervals[1:], other.intervals[1:], strict=True)
        changed = [(a, b) for a, b in pairs if a != b]
        assert len(changed) <= 1
        assert all(b is None or abs(a - b) <= 2 for a, b in changed)


@LAWS
@given(statements(least=5), st.integers(3, 5))
def test_thinning_keeps_first_and_last(said, count):
    """Fewer notes, from the same first pitch to the same last one, at the same times."""
    bare = moves.thin(said, count)
    sound(bare)
    assert len(bare) == min(count, len(said))
    assert whole(bare) == whole(said)
    assert bare.onsets[-1] == said.onsets[-1]
    assert set(bare.onsets) <= set(said.onsets)


@LAWS
@given(statements(least=4))
def test_an_answer_leaves_the_end_free(said):
    """Question and answer share the head; the end is not the question's."""
    for closed in (True, False):
        reply = moves.answer(said, closed=closed)
        assert len(reply) < len(said)
        assert reply.intervals == said.intervals[: len(reply)]
        assert ("closed" in reply.note) == closed


def test_displacement_quotation_and_contrast():
    """Displaced: elsewhere in the bar. Quoted: said how long ago. Contrast: the other way about."""
    said = Statement("restate", (0, 6, 12, 18), (6, 6, 6, 6), (None, 2, 2, 1), phase=0, start=60)
    assert moves.displace(said, 6).phase == 6
    assert "an eighth later" in moves.displace(said, 6).note
    assert "a beat earlier" in moves.displace(said, -TICKS).note
    assert "last time" in moves.quote(said, 1).note
    assert "3 turns ago" in moves.quote(said, 3).note
    other = moves.contrast(said, 12)
    assert other.intervals == (None, -2, -2, -1)
    assert other.start == 72


@pytest.mark.parametrize("keep", [2, 3])
def test_a_restatement_may_go_on_from_its_head(keep):
    """The head keeps its intervals, the rest only its rhythm."""
    said = Statement("restate", (0, 6, 12, 18), (6, 6, 6, 6), (None, 2, 2, 1), start=60)
    again = moves.restate(said, keep)
    assert again.intervals == (*said.intervals[:keep], *(None,) * (4 - keep))
    assert again.onsets == said.onsets
