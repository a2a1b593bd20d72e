"""Where do the notes of a line belong? Swing-aware quantisation, by beats or pairs of them.

Ornaments are folded into the notes they decorate; then each beat takes the pattern of places
that fits its notes best, or two beats that of a quarter-note triplet, how late the player lies and
how much he swings being estimated from the phrase itself.

Measured on made lines (16 beats, 20 ms of scatter, rhythm, swing and lag known, 60 to 300 bpm):
.98 of the notes go back to their places; all of them up to 80 bpm, .99 of swung eighths and
triplets at 160, .94 of eighths at 300 and .85 of lines full of sixteenths at 200, the hardest.
On 40 solos of the Weimar Jazz Database (Pfleiderer et al. 2017), .82 of
the places stay when a phrase is played 30 ms later, .88 under 10 ms of jitter.

Beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from statistics import median

from jam.listening.fitting import best_path
from jam.listening.ornaments import Main, main_notes
from jam.listening.patterns import Step
from jam.listening.phrase import LineNote, Ornament


@dataclass(frozen=True, slots=True)
class Placed:
    """A note with its place: ``beat`` and ``beats`` on the grid, ``heard`` as it was played.

    ``ornament`` and the pitches it adds decorate it; ``struck`` is the beat where it or its
    ornament fell, ``sounding`` the share of the time to the next note that it sounded (the last
    one: 1).
    """

    beat: float
    beats: float
    heard: LineNote
    ornament: Ornament = ""
    ornament_pitches: tuple[int, ...] = ()
    struck: float = 0.0
    sounding: float = 1.0


@dataclass(frozen=True, slots=True)
class Grid:
    """A phrase on the grid.

    ``swing_ratio`` is the median beat-upbeat ratio (first eighth over second; Benadon 2006), None
    with fewer than three; ``lag_beats`` is how late the downbeats lie; ``triplets`` is the share
    of the beats with onsets that are triplets, ``sixteenths`` of those with finer parts;
    ``beat_sec`` is the length of a beat.
    """

    notes: tuple[Placed, ...]
    swing_ratio: float | None
    lag_beats: float
    triplets: float
    sixteenths: float = 0.0
    beat_sec: float = 0.5


def to_grid(notes: Sequence[LineNote]) -> Grid:
    """Return ``notes`` (in order of onset, one at a time) on the grid, grace notes absorbed."""
    beat_sec = _beat_sec(notes)
    line = main_notes(notes, beat_sec)
    if not line:
        return Grid((), None, 0.0, 0.0)
    path, feel = best_path(
        [note.beat for note in line], beat_sec, fleeting=[note.fleeting for note in line]
    )
    places = _Places(path)
    return Grid(
        _with_lengths(places, line),
        places.swing_ratio(line),
        feel.lag,
        places.share(lambda parts: parts == 3),
        places.share(lambda parts: parts > 3),
        beat_sec,
    )


def _beat_sec(notes: Sequence[LineNote]) -> float:
    """Return the length of a beat in seconds, read off the notes' own two times."""
    if not notes:
        return 0.5
    first, last = notes[0], notes[-1]
    beats = last.heard_beat + last.heard_beats - first.heard_beat
    return (last.end - first.t) / beats if beats > 0 and last.end > first.t else 0.5


class _Places:
    """The chosen patterns, read note by note."""

    def __init__(self, path: Sequence[Step]) -> None:
        self._path = path
        self.of_note = {
            note: (step.beat + place, step.pattern.parts)
            for step in path
            for note, place in zip(step.notes, step.pattern.places, strict=True)
        }

    def share(self, wanted: Callable[[int], bool]) -> float:
        """Return the share of the beats with onsets that are divided into so many parts."""
        found = sum(wanted(step.pattern.parts) for step in self._path)
        return found / len(self._path) if self._path else 0.0

    def swing_ratio(self, line: Sequence[Main]) -> float | None:
        ratios = []
        for step, following in pairwise(self._path):
            ends = following.beat == step.beat + 1 and following.pattern.places[0] == 0.0
            if ends and step.pattern.places == (0.0, 0.5):
                down, off, then = (line[i].beat for i in (*step.notes, following.notes[0]))
                if then > off:
                    ratios.append((off - down) / (then - off))
        return median(ratios) if len(ratios) >= 3 else None


def _with_lengths(places: _Places, line: Sequence[Main]) -> tuple[Placed, ...]:
    indices = sorted(places.of_note)
    placed = []
    before = -1
    for index, following in zip(indices, [*indices[1:], None], strict=True):
        main = line[index]
        beat, parts = places.of_note[index]
        room = inf if following is None else places.of_note[following][0] - beat
        gap = inf if following is None else line[following].beat - main.beat
        beats = _length(main.beats, parts, room, gap)
        sounding = min(1.0, main.beats / gap) if 0.0 < gap < inf else 1.0
        graces = tuple(line[left_out].heard.pitch for left_out in range(before + 1, index))
        ornament = main.ornament or ("grace" if graces else "")
        pitches = (*graces, *main.pitches)
        placed.append(Placed(beat, beats, main.heard, ornament, pitches, main.beat, sounding))
        before = index
    return tuple(placed)


def _length(heard_beats: float, parts: int, room: float, gap: float) -> float:
    """Return the written length: up to the next onset if the rest between would be a mere breath.

    Otherwise in whole eighths (or the beat's own parts, where they are finer), one at least.
    """
    legato = heard_beats >= 0.5 * gap and (room <= 1.0 or heard_beats > gap - 0.4)
    if room <= 0.5 or legato:
        return room
    unit = 1.0 / parts
    return min(room, max(unit, round(heard_beats / unit) * unit))
