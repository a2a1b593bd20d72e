"""Where only the ear knows the chords, the soloist is told what may come next."""

from __future__ import annotations

import pytest
from asked import listen_in
from sessions import chord, line, play, setup, tune

from jam.core.forecast import MOST, Alternatives, alternatives
from jam.core.setup import TimedChange
from jam.events import Input
from jam.harmony.changes import Change, Changes
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.transport.metre import Bars

BARS = Bars()
VAMP = "Dm7 G7 Dm7 G7 Dm7 G7 Dm7 G7"
BLUES = "C7 F7 C7 C7 F7 F7 C7 C7 G7 F7 C7 G7"
TURNAROUND = "Cmaj7 A7 Dm7 G7"


def heard(symbols: str) -> Changes:
    """Return chords as they were named, one a bar."""
    return Changes([Change(4.0 * n, parse_chord(s)) for n, s in enumerate(symbols.split())])


def coming(found: Alternatives) -> dict[str, float]:
    """Return the chances of the chords that may come."""
    return {changes[-1].chord.symbol: chance for chance, changes in found}


@pytest.mark.parametrize("symbols", ["Dm7", "G7 C7", VAMP, BLUES, TURNAROUND])
@pytest.mark.parametrize("key", [None, "C major", "Eb minor"])
def test_they_are_chances(symbols: str, key: str | None) -> None:
    """Three at most, the likeliest first; what is left is the chance that all stays as it is. Up
    to the change the chords are those that were heard."""
    known = heard(symbols)
    beat = known[-1].beat + 1.0
    found = alternatives(known, beat, beat + 16.0, BARS, parse_key(key) if key else None)
    chances = [chance for chance, _ in found]
    assert len(found) <= MOST
    assert found or key == "Eb minor"
    assert chances == sorted(chances, reverse=True)
    assert sum(chances) < 1.0
    for chance, changes in found:
        last = changes[-1]
        assert (last.source, last.confidence) == ("forecast", chance)
        assert beat < last.beat
        assert [(c.beat, c.chord) for c in changes[:-1]] == [(c.beat, c.chord) for c in known]


@pytest.mark.parametrize(
    ("before", "after"),
    [("Dm7", "G7"), ("Bm7b5", "E7"), ("G7", "C")],
)
def test_what_usually_follows_comes_first(before: str, after: str) -> None:
    """ii goes to V, V to I (common practice)."""
    assert next(iter(coming(alternatives(heard(before), 1.0, 16.0, BARS, None)))) == after


def test_a_key_makes_its_own_chords_likelier() -> None:
    """In C a V of C goes home more surely than without a key."""
    bare = coming(alternatives(heard("G7"), 1.0, 16.0, BARS, None))
    keyed = coming(alternatives(heard("G7"), 1.0, 16.0, BARS, parse_key("C major")))
    assert keyed["C"] > bare["C"]


@pytest.mark.parametrize("symbols", [VAMP, f"{BLUES} {BLUES}", f"{TURNAROUND} {TURNAROUND}"])
def test_what_comes_again_is_expected(symbols: str) -> None:
    """A chord that has followed this one before is among the three whenever it comes again."""
    names = symbols.split()
    seen: set[tuple[str, str]] = set()
    for place in range(1, len(names)):
        before, after = names[place - 1], names[place]
        if (before, after) in seen and before != after:
            known = heard(" ".join(names[:place]))
            found = alternatives(known, 4.0 * place - 1.0, 4.0 * place + 8.0, BARS, None)
            assert after in coming(found)
            assert found[0][1][-1].beat in (4.0 * place, 4.0 * place + 4.0)
        seen.add((before, after))
    assert seen


def test_a_chord_lasts_as_long_as_the_last_time() -> None:
    """Two bars of this and two of that are expected to be two bars again."""
    chords = (("Dm7", 0.0), ("G7", 8.0), ("Dm7", 16.0))
    known = Changes([Change(beat, parse_chord(symbol)) for symbol, beat in chords])
    assert alternatives(known, 16.5, 40.0, BARS, None)[0][1][-1].beat == 24.0
    # longer than that, it may end with any bar
    assert alternatives(known, 25.0, 40.0, BARS, None)[0][1][-1].beat == 28.0


def test_what_lies_behind_the_reply_is_left_out() -> None:
    """A change that comes too late to matter is none."""
    assert alternatives(heard("Dm7"), 1.0, 4.0, BARS, None) == ()
    assert alternatives(Changes(()), 1.0, 4.0, BARS, None) == ()


def band(symbol_pitches: tuple[tuple[int, ...], ...], bars: int) -> list[Input]:
    """Return a band that strikes these chords in turn, one a bar."""
    return [
        m
        for bar in range(bars)
        for m in chord(4.0 * bar, 3.9, symbol_pitches[bar % len(symbol_pitches)], port="band")
    ]


def test_by_ear_the_soloist_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over a vamp of two chords the other one is expected, and the log says so."""
    asked = listen_in(monkeypatch)
    vamp = band(((38, 53, 57, 60, 64), (43, 53, 57, 59, 64)), 8)
    run = play(setup(chart=None), [*vamp, *line(8, 14.0)], until=15.0)
    present = asked[0].changes[-1].chord.root
    expected = asked[0].alternatives[0][1][-1].chord.root
    assert {present, expected} == {2, 7}
    assert run.replies[0]["expects"][0]["probability"] == asked[0].alternatives[0][0]


def test_where_the_chords_are_known_nothing_is_guessed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A chart is certain, and so is a chart in seconds."""
    asked = listen_in(monkeypatch)
    play(setup(chart=tune()), line(8, 14.0), until=10.0)
    timed = tuple(TimedChange(2.0 * n, parse_chord(s)) for n, s in enumerate(VAMP.split()))
    play(setup(chart=None, timed_changes=timed), line(8, 14.0), until=10.0)
    assert len(asked) == 2
    assert all(request.alternatives == () for request in asked)
