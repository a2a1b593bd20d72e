"""Replies for the tests of styles: many questions to the soloist, one style, what came of it.

The calls are those of the stand-in player over invented four-bar stretches; the soloist is asked
through its one public question, `jam.players.soloist.soloist.answer`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from functools import cache

import numpy as np

from jam.harmony.changes import Change, Changes
from jam.harmony.functions import function_of
from jam.harmony.keys import parse_key
from jam.harmony.symbols import parse_chord
from jam.idiom.model import Idiom
from jam.listening.describe import describe
from jam.listening.phrase import LineNote, PhraseDescription
from jam.players.soloist.request import Reply, Request, Window
from jam.players.soloist.soloist import answer
from jam.players.stand_in import phrases
from jam.review.line_measures import Turn
from jam.session.idioms import find_idiom
from jam.styles.profile import Style
from jam.transport.metre import Bars

TUNES = (
    ("C major", False, "Cmaj7|A7|Dm7|G7|Cmaj7|A7|Dm7|G7|Cmaj7|Cmaj7"),
    ("C minor", False, "Cm7|Fm7|Bb7|Ebmaj7|Abmaj7|Dm7b5|G7|Cm7|Cm7|Fm7"),
    ("F major", True, "F7|Bb7|F7|F7|Bb7|Bb7|F7|D7|Gm7|C7"),
    ("Bb major", False, "Bbmaj7 G7|Cm7 F7|Dm7 G7|Cm7 F7|Fm7 Bb7|Eb6 Ebm6|Dm7 G7|Cm7 F7|Bb6|Bb6"),
)
BLUES = 2
TURN_BEATS = 16.0
BARS = Bars()


@cache
def idiom_named(name: str) -> Idiom:
    """Return the idiom that a style names."""
    return find_idiom(name).value


@cache
def changes_of(tune: int) -> Changes:
    """Return the changes of a tune: four bars for the call, four for the reply, two more."""
    key, blues, text = TUNES[tune]
    rows = [
        (4.0 * bar + 4.0 * place / len(names), parse_chord(name))
        for bar, names in enumerate(part.split() for part in text.split("|"))
        for place, name in enumerate(names)
    ]
    following = [chord for _, chord in rows[1:]] + [None]
    return Changes(
        [
            Change(beat, chord, function=function_of(chord, after, parse_key(key), blues))
            for (beat, chord), after in zip(rows, following, strict=True)
        ]
    )


@cache
def call_of(tune: int, seed: int, bpm: float, velocity: int | None = None) -> PhraseDescription:
    """Return what the stand-in plays in the first four bars, described."""
    rng = np.random.default_rng((seed, 3))
    key = parse_key(TUNES[tune][0])
    changes = changes_of(tune)
    beat_sec = 60.0 / bpm
    notes = [
        LineNote(
            note.beat * beat_sec,
            (note.beat + note.beats) * beat_sec,
            note.pitch,
            velocity or note.velocity,
            note.beat,
            note.beats,
        )
        for note in phrases(changes, BARS, [(0.0, TURN_BEATS)], bpm, rng, key)
    ]
    return describe(notes, changes, BARS)


def request(
    style: Style,
    tune: int,
    seed: int,
    bpm: float = 160.0,
    velocity: int | None = None,
    **changed: object,
) -> Request:
    """Return a question over one of the tunes, with ``changed`` fields; ``velocity`` is that of
    every note of the call."""
    key, blues, _ = TUNES[tune]
    asked = Request(
        window=Window(TURN_BEATS, 2 * TURN_BEATS, TURN_BEATS - 1.0, 2 * TURN_BEATS + 1.0),
        changes=changes_of(tune),
        bars=BARS,
        pulse_beats=1.0,
        bpm=bpm,
        feel="swing",
        style=style,
        seed=(seed, 11),
        call=call_of(tune, seed, bpm, velocity),
        key=parse_key(key),
        blues=blues,
        idiom=idiom_named(style.idiom.name),
    )
    return replace(asked, **changed)  # type: ignore[arg-type]


def replies(
    style: Style,
    count: int,
    *,
    tunes: Sequence[int] = (0, 1, 2, 3),
    bpm: float = 160.0,
    **changed: object,
) -> list[Reply]:
    """Return ``count`` replies over the tunes in turn, each with a seed and a call of its own."""
    return [answer(request(style, tunes[n % len(tunes)], n, bpm, **changed)) for n in range(count)]


def turns(found: Sequence[Reply], tunes: Sequence[int] = (0, 1, 2, 3)) -> list[Turn]:
    """Return replies as the measures take them."""
    rows = []
    for number, reply in enumerate(found):
        changes = changes_of(tunes[number % len(tunes)])
        held = tuple((c.beat, c.chord) for c in changes if TURN_BEATS <= c.beat < 2 * TURN_BEATS)
        notes = tuple(asdict(note) for note in reply.notes)
        rows.append(Turn(notes, TURN_BEATS, 2 * TURN_BEATS, held))
    return rows
