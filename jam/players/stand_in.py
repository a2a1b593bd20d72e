"""A stand-in for the human player: what does somebody play in their own turns?

Made for demonstrations and tests, so that the companion has somebody to listen to. It has a bank
of motifs of its own, invented here, which it bends to the chords by rules of thumb, and it never
shares a line of thought with the soloist. It plays like a person: uneven timing (a few to twenty
milliseconds), the whole line behind the beat, swing far from triplets as it is heard (from onset
to onset), breaths, pick-ups, now and then a key held into the next. Laid back as far as its
downbeats, its narrow off-beats come out near the cymbal's wide ones.

Figures: swing ratio of soloists about 1.3 (Corcoran & Frieler 2021), falling with tempo (medians of
the Weimar Jazz Database, Pfleiderer et al. 2017: 1.37 at 100 bpm to 1.14 at 300); their downbeats
about 30 ms late at 150 bpm, in parts of a beat the less the faster (Nelias et al. 2022). Lengths
of rests are rules of thumb.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, pi, sin

import numpy as np

from jam.harmony.changes import Changes
from jam.harmony.keys import Key
from jam.harmony.scales import scale_of
from jam.transport.metre import Bars
from jam.transport.swing import swing_beat

LOW, HIGH = 57, 84
"""Range of the stand-in's instrument, as MIDI numbers."""


@dataclass(frozen=True, slots=True)
class StandInNote:
    """A note as it is played: ``beat`` and ``beats`` after swing, ``late_sec`` on top of it."""

    beat: float
    beats: float
    pitch: int
    velocity: int
    late_sec: float


@dataclass(frozen=True, slots=True)
class _Tone:
    """A written note: place and length in beats; a pitch, or steps from the motif's anchor."""

    beat: float
    beats: float
    height: int


_T = 1 / 3
_Motif = tuple[_Tone, ...]

_MOTIFS: tuple[_Motif, ...] = tuple(
    tuple(_Tone(*tone) for tone in motif)
    for motif in (
        ((0.5, 0.5, 0), (1, 0.5, 1), (1.5, 0.5, 2), (2, 1, 4)),
        ((0, 1.5, 2), (1.5, 0.5, 1), (2, 1.5, 0)),
        ((0.5, 0.5, 4), (1, 0.5, 3), (1.5, 0.5, 2), (2, 0.5, 1), (2.5, 1, 0)),
        ((0, _T, 0), (_T, _T, 1), (2 * _T, _T, 2), (1, 0.5, 4), (1.5, 0.5, 2)),
        ((0, 0.5, 0), (0.5, 0.5, 0), (1.5, 0.5, 2), (2.5, 1, 1)),
        ((0, 0.5, 0), (0.5, 0.5, 2), (1, 0.5, 4), (1.5, 0.5, 6), (2, 0.5, 5), (2.5, 1, 4)),
        ((0.5, 1, 4), (1.5, 0.5, 2), (2, 0.5, 3), (2.5, 0.5, 1), (3, 1, 0)),
        ((0, 0.5, 2), (0.5, 0.5, 3), (1, 0.5, 4), (1.5, 0.5, 1), (2.5, 0.5, 2), (3.5, 0.5, 0)),
        ((0, 1, 4), (1, _T, 3), (1 + _T, _T, 2), (1 + 2 * _T, _T, 1), (2, 1.5, 0)),
        tuple((k / 2, 0.5, h) for k, h in enumerate((0, 1, 2, 4, 3, 2, 1, 0, -1))),
        tuple((k / 2 + 0.5, 0.5, h) for k, h in enumerate((4, 2, 3, 1, 2, 0, -1))),
    )
)


def phrases(
    changes: Changes,
    bars: Bars,
    turns: Sequence[tuple[float, float]],
    bpm: float,
    rng: np.random.Generator,
    key: Key | None = None,
    *,
    swing: bool = True,
) -> list[StandInNote]:
    """Return what the stand-in plays in its ``turns``, each a pair of beats from and to.

    Nothing begins more than a beat before a turn or after its end; the last note of a turn may
    ring over it by less than a beat. ``swing`` False plays even eighths.
    """
    hands = _Hands(changes, bars, key, rng)
    ratio = _swing_ratio(bpm) if swing else 1.0
    return [
        note
        for start, end in turns
        for phrase in hands.turn(start, end)
        for note in _humanise(phrase, bars, bpm, ratio, rng)
    ]


def _swing_ratio(bpm: float) -> float:
    return float(np.clip(1.37 - (bpm - 100.0) * 0.00115, 1.1, 1.4))


def _lateness_sec(bpm: float) -> float:
    return float(np.clip(0.0005 * (300.0 - bpm) * 60.0 / bpm, 0.0, 0.045))


class _Hands:
    """Strings motifs together and bends them to the chords."""

    def __init__(
        self, changes: Changes, bars: Bars, key: Key | None, rng: np.random.Generator
    ) -> None:
        self._changes = changes
        self._bars = bars
        self._key = key
        self._rng = rng
        self._height = 68.0

    def turn(self, start: float, end: float) -> list[list[_Tone]]:
        """Return the phrases of one turn, each a list of tones with their pitches."""
        rng = self._rng
        theme = self._pick()
        beat = start + float(rng.choice([0, 0, 1, 2]))
        phrase: list[_Tone] = self._pickup(start) if beat == start and rng.random() < 0.3 else []
        found: list[list[_Tone]] = []
        while True:
            motif = theme if rng.random() < 0.6 else self._pick()
            if beat + motif[-1].beat >= end - 0.4:
                motif = tuple(tone for tone in motif if beat + tone.beat < end - 1.0)[:4]
                if len(motif) >= 2:
                    phrase += self._bend(motif, beat)
                break
            phrase += self._bend(motif, beat)
            beat = ceil(beat + motif[-1].beat + motif[-1].beats - 1e-9)
            rest = int(rng.choice([0, 0, 1, 2, 3]))
            if rest:
                found.append(phrase)
                phrase = []
            beat += rest
        return [tones for tones in (*found, phrase) if tones]

    def _pick(self) -> _Motif:
        return _MOTIFS[int(self._rng.integers(len(_MOTIFS)))]

    def _pickup(self, start: float) -> list[_Tone]:
        """Return one or two notes that lead into the downbeat of the turn."""
        goal = self._chord_tone(start, self._height)
        below = [goal - 1] if self._rng.random() < 0.5 else [goal - 3, goal - 1]
        first = start - 0.5 * len(below)
        return [_Tone(first + 0.5 * k, 0.5, pitch) for k, pitch in enumerate(below)]

    def _bend(self, motif: _Motif, beat: float) -> list[_Tone]:
        """Return the motif from ``beat`` on, its steps walked on the scale of each chord."""
        self._wander()
        anchor = self._chord_tone(beat + motif[0].beat, self._height)
        tones = []
        for index, tone in enumerate(motif):
            place = beat + tone.beat
            heard = place + 0.5 if place % 1.0 == 0.5 and self._rng.random() < 0.4 else place
            ladder = self._ladder(heard)
            foot = min(range(len(ladder)), key=lambda k: (abs(ladder[k] - anchor), k))
            pitch = ladder[min(max(foot + tone.height, 0), len(ladder) - 1)]
            if index + 1 == len(motif) or self._bars.at(place)[1] == 0.0:
                pitch = self._chord_tone(heard, pitch)
            tones.append(_Tone(place, tone.beats, pitch))
        return self._leading(tones)

    def _leading(self, tones: list[_Tone]) -> list[_Tone]:
        """Return the tones, some off-beats now a semitone below the note they lead to."""
        for index in range(1, len(tones) - 1):
            here, to = tones[index], tones[index + 1]
            if here.beat % 1.0 == 0.5 and to.beat - here.beat == 0.5 and self._rng.random() < 0.15:
                tones[index] = _Tone(here.beat, here.beats, to.height - 1)
        return tones

    def _wander(self) -> None:
        self._height = float(np.clip(self._height + self._rng.normal(0.0, 4.0), 62.0, 75.0))

    def _ladder(self, beat: float) -> list[int]:
        change = self._changes.at(beat)
        scale = scale_of(change.chord, change.function, self._key) or frozenset(range(12))
        return [pitch for pitch in range(LOW, HIGH + 1) if pitch % 12 in scale]

    def _chord_tone(self, beat: float, near: float) -> int:
        tones = self._changes.at(beat).chord.tones or frozenset(range(12))
        pitches = [pitch for pitch in range(LOW, HIGH + 1) if pitch % 12 in tones]
        return min(pitches, key=lambda pitch: (abs(pitch - near), pitch))


def _humanise(
    tones: Sequence[_Tone], bars: Bars, bpm: float, ratio: float, rng: np.random.Generator
) -> list[StandInNote]:
    """Return the tones of one phrase as a person would place, hold and strike them."""
    late_sec = _lateness_sec(bpm)
    top = max(tone.height for tone in tones)
    notes = []
    for index, tone in enumerate(tones):
        on_beat = abs(tone.beat - round(tone.beat)) < 1e-6
        scatter = float(np.clip(rng.normal(0.0, 0.008), -0.02, 0.02))
        begin = swing_beat(tone.beat, ratio)
        end = swing_beat(tone.beat + tone.beats, ratio)
        to_next = tones[index + 1].height if index + 1 < len(tones) else tone.height
        over = to_next != tone.height and rng.random() < 0.15
        held = 1.03 if over else float(rng.uniform(0.72, 0.95))
        arch = sin(pi * (index + 1) / (len(tones) + 1))
        accent = 7 * (not on_beat) + 8 * (tone.height == top)
        velocity = 66 + 14 * arch + accent + rng.normal(0.0, 5.0)
        notes.append(
            StandInNote(
                beat=begin,
                beats=(end - begin) * held,
                pitch=tone.height,
                velocity=int(np.clip(velocity, 25, 120)),
                late_sec=late_sec + scatter,
            )
        )
    return notes
