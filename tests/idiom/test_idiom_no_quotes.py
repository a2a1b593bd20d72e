"""No reply says eight intervals with their rhythm of what its idiom was learnt from."""

from __future__ import annotations

from dataclasses import replace

from idiom_made import SEVENTH, line_of

from jam.events import PlannedNote
from jam.idiom.backoff import idiom_of
from jam.idiom.learn import Played, learn
from jam.idiom.model import Idiom
from jam.idiom.windows import window_hashes
from jam.players.soloist.request import Request, Window
from jam.players.soloist.soloist import answer
from jam.session.resources import find_style
from jam.transport.metre import Bars

REPLIES = 200
RISES = [60, 62, 64, 65, 67, 69, 70, 72, 70, 69, 67, 65, 64, 62, 60, 58]
WEAVES = [64, 60, 65, 62, 67, 64, 69, 65, 70, 67, 72, 69, 70, 67, 69, 65]


def strong_habits() -> Idiom:
    """Return an idiom of two phrases in eighths, said again and again from every other bar."""
    ticks = [6 * k for k in range(16)]
    said = [
        line_of([t + 96 * number for t in ticks], (RISES, WEAVES)[number % 2])
        for number in range(60)
    ]
    return idiom_of(learn([Played(tuple(said), SEVENTH, 120.0)]), name="habits")


def said_windows(notes: tuple[PlannedNote, ...]) -> set[int]:
    ticks = [round(note.beat * 12) for note in notes]
    return set(window_hashes([note.pitch for note in notes], ticks))


def asked(idiom: Idiom, seed: int) -> Request:
    """Return a question for four bars over C7, answered by the idiom's habits alone."""
    style = find_style("bop").value
    choice = style.idiom.model_copy(update={"name": "habits", "weight": 1.0, "rhythm": 1.0})
    return Request(
        window=Window(0.0, 16.0, 0.0, 16.0),
        changes=SEVENTH,
        bars=Bars(),
        pulse_beats=1.0,
        bpm=120.0,
        feel="swing",
        style=style.model_copy(update={"idiom": choice}),
        seed=(seed,),
        idiom=idiom,
        effort=3_000,
    )


def test_phrases_are_not_quoted() -> None:
    """Over 200 replies no window is said of the phrases learnt, nor of 60 lines that strong habits
    lead to where nothing forbids them."""
    idiom = strong_habits()
    free = replace(idiom, windows=frozenset())
    likely = [said_windows(answer(asked(free, seed)).notes) for seed in range(60)]
    assert sum(map(bool, likely)) > 30, "too few lines of nine notes for this test to fail"
    known = replace(idiom, windows=idiom.windows.union(*likely))
    for seed in range(REPLIES):
        reply = answer(asked(known, seed))
        assert reply.notes
        assert not said_windows(reply.notes) & known.windows, seed
