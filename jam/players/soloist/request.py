"""What the soloist is asked and what it answers.

Beats are quarter notes since the session's first downbeat, pitches MIDI numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from jam.charts.model import Feel
from jam.events import PlannedNote
from jam.harmony.changes import Changes
from jam.harmony.chord import Chord
from jam.harmony.keys import Key
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.listening.phrase import PhraseDescription
from jam.styles.profile import Style
from jam.transport.metre import Bars


@dataclass(frozen=True)
class Window:
    """The time a reply may take.

    The turn is ``start <= beat < end``. The first note begins at ``earliest`` or later (before
    ``start`` it is a pickup), the last one ends at ``latest`` or before.
    """

    start: float
    end: float
    earliest: float
    latest: float


@dataclass(frozen=True)
class Prefix:
    """The notes of a reply that can no longer be changed; the last of them may still sound.

    ``from_beat`` is where the new tail may begin; ``pitches`` are in order, ``pending`` those of
    the last two that still wait for their step. ``breath_beat`` is where the breath was taken in
    which the line goes on. ``held`` is where the last note begins and ends (where it is cut, if it
    does not fit the chord that has arrived).
    """

    from_beat: float
    pitches: tuple[int, ...]
    pending: tuple[int, ...] = ()
    breath_beat: float | None = None
    held: tuple[float, float] | None = None


@dataclass(frozen=True)
class Memory:
    """What was said before in this session, oldest first.

    ``heard`` are the player's earlier calls, ``said`` the companion's earlier replies.
    """

    heard: tuple[PhraseDescription, ...] = ()
    said: tuple[tuple[PlannedNote, ...], ...] = ()


@dataclass(frozen=True)
class Story:
    """Where in the tune a reply stands.

    ``place`` is where in the chorus it begins (0 to 1), ``chorus`` which one it is, from 0;
    ``closes`` says that it is the last reply of its chorus or of the tune.
    """

    place: float = 0.0
    chorus: int = 0
    closes: bool = False


@dataclass(frozen=True)
class ImpliedSpan:
    """Beats in which the line is judged against ``chord`` and not the one that sounds."""

    beat: float
    beats: float
    chord: Chord


@dataclass(frozen=True)
class Request:
    """One question to the soloist.

    ``changes`` reach from before ``window.earliest`` to past ``window.latest``. ``call`` is None
    when there is nothing to take up; ``own`` says that it is the companion's own last phrase, which
    a solo goes on from. ``recent`` holds the interval patterns of the last replies, so that it does
    not repeat itself. ``alternatives`` are other changes that may come instead,
    each with its probability, where the coming chord is only forecast. ``prompt`` asks for a
    first note on ``window.start`` (an eager reply). ``seed`` makes the answer: the same request
    with the same seed gets the same reply.
    """

    window: Window
    changes: Changes
    bars: Bars
    pulse_beats: float
    bpm: float
    feel: Feel
    style: Style
    seed: tuple[int, ...]
    call: PhraseDescription | None = None
    key: Key | None = None
    idiom: Idiom = field(default_factory=plain_idiom)
    blues: bool = False
    recent: tuple[tuple[int, ...], ...] = ()
    memory: Memory = Memory()
    story: Story = Story()
    alternatives: tuple[tuple[float, Changes], ...] = ()
    effort: int = 20_000
    own: bool = False
    prompt: bool = False


@dataclass(frozen=True)
class Reply:
    """The planned notes, in order, with the slots they came from (kept for planning a new tail).

    ``effort`` counts the expansions used (slots times pitches, summed over candidates).
    ``idea`` says in words what was taken from the call. ``spans`` are where the line goes out
    over an implied chord.
    """

    notes: tuple[PlannedNote, ...]
    slots: tuple[object, ...]
    effort: int
    idea: str
    spans: tuple[ImpliedSpan, ...] = ()
