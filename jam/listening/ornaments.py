"""Which notes of a line only decorate another? They get no place of their own on the grid.

Recognised by shape and speed (definitions: any dictionary of ornaments; the limits in seconds are
the author's, from what can be heard as a note of its own):

- *grace*: one or more flashes before a longer note;
- *slide*: two or more flashes that step one way into a longer note (the keyboard's glissando);
- *mordent*: main note, neighbour, main note again, the last one held;
- *turn*: the note above, the main note, the note below, the main note (or the reverse), with or
  without the main note first;
- *trill*: four or more quick notes to and fro between a note and the one above, which is the
  neighbour; the lower one is the main note.

Seconds are of the session, beats are quarter notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from jam.listening.phrase import LineNote, Ornament

_NONE: Ornament = ""

LONGER = 1.6
"""A note that an ornament leads to lasts at least so many times as long as the ornament's own."""
FLASH_SEC, FLASH_BEATS, SURE_FLASH_SEC = 0.060, 0.22, 0.030
"""Notes over within the lesser of the first two may slide, one within the third is a grace."""
FLEETING_SEC, FLEETING_SEMITONES = 0.070, 3
"""A note over within this, so near the next, may be a grace: the grid decides."""
TRILL_SEC, TRILL_BEATS = 0.085, 0.30
QUICK_SEC, QUICK_BEATS = 0.075, 0.20
NEIGHBOUR = 2
"""Semitones to a neighbour, at most."""
MOST_GRACES = 4
FEWEST_TRILLED = 4


@dataclass(frozen=True, slots=True)
class Main:
    """A note with a place of its own: ``heard`` as it was played, ``beat`` where it or its ornament
    strikes, ``beats`` until its release, ``pitches`` what the ornament adds. A ``fleeting`` one may
    be a grace of the next, if it fits no place."""

    heard: LineNote
    beat: float
    beats: float
    ornament: Ornament = ""
    pitches: tuple[int, ...] = ()
    fleeting: bool = False


def main_notes(notes: Sequence[LineNote], beat_sec: float) -> list[Main]:
    """Return ``notes`` (in order of onset) with their ornaments folded into the main notes.

    After a grace or slide the main note keeps its own onset; the others begin with the ornament.
    """
    if not notes:
        return []
    gaps = [b.t - a.t for a, b in pairwise(notes)]
    gaps.append(max(notes[-1].end - notes[-1].t, 1.0))
    found: list[Main] = []
    index = 0
    while index < len(notes):
        count, ornament = _ornament(notes, gaps, index, beat_sec)
        main = _folded(notes[index : index + count], ornament)
        if count == 1 and _fleeting(notes, gaps, index):
            main = replace(main, fleeting=True)
        found.append(main)
        index += count
    return found


def _fleeting(notes: Sequence[LineNote], gaps: Sequence[float], index: int) -> bool:
    if gaps[index] > FLEETING_SEC or gaps[index + 1] < LONGER * gaps[index]:
        return False
    return abs(notes[index + 1].pitch - notes[index].pitch) <= FLEETING_SEMITONES


def _ornament(
    notes: Sequence[LineNote], gaps: Sequence[float], index: int, beat_sec: float
) -> tuple[int, Ornament]:
    """Return how many notes the ornament that begins at ``index`` takes, main note included."""
    limits = (
        (min(TRILL_SEC, TRILL_BEATS * beat_sec), _trill),
        (min(QUICK_SEC, QUICK_BEATS * beat_sec), _figure),
        (max(SURE_FLASH_SEC, min(FLASH_SEC, FLASH_BEATS * beat_sec)), _graces),
    )
    for limit, recognise in limits:
        run = index
        while run < len(notes) - 1 and gaps[run] <= limit:
            run += 1
        if run > index:
            count, ornament = recognise(
                [note.pitch for note in notes[index : run + 1]], gaps[index : run + 1]
            )
            if ornament:
                return count, ornament
    return 1, _NONE


def _trill(pitches: Sequence[int], gaps: Sequence[float]) -> tuple[int, Ornament]:
    low, high = sorted(pitches[:2])
    if not 0 < high - low <= NEIGHBOUR:
        return 1, _NONE
    count = 2
    while count < len(pitches) and pitches[count] == pitches[count - 2]:
        count += 1
    return (count, "trill") if count >= FEWEST_TRILLED else (1, _NONE)


def _figure(pitches: Sequence[int], gaps: Sequence[float]) -> tuple[int, Ornament]:
    """Recognise a turn or mordent: all of a quick run and the longer note it leads to."""
    steps = [b - a for a, b in pairwise(pitches)]
    held = gaps[-1] >= LONGER * max(gaps[:-1])
    if not held or any(not 0 < abs(step) <= NEIGHBOUR for step in steps):
        return 1, _NONE
    if len(steps) == 2 and steps[0] == -steps[1]:
        return 3, "mordent"
    if len(steps) in (3, 4) and pitches[-1] == pitches[-3]:
        first, second, third = steps[-3:]
        round_it = first * second > 0 > second * third
        if round_it and (len(steps) == 3 or pitches[0] == pitches[-1]):
            return len(pitches), "turn"
    return 1, _NONE


def _graces(pitches: Sequence[int], gaps: Sequence[float]) -> tuple[int, Ornament]:
    """Recognise a slide, or flashes too short to be anything but graces."""
    held = gaps[-1] >= LONGER * max(gaps[:-1])
    steps = [b - a for a, b in pairwise(pitches)]
    one_way = all(0 < step <= NEIGHBOUR for step in steps) or all(
        0 < -step <= NEIGHBOUR for step in steps
    )
    if held and one_way and 2 <= len(steps) <= MOST_GRACES:
        return len(pitches), "slide"
    return (2, "grace") if gaps[0] <= SURE_FLASH_SEC else (1, _NONE)


def _folded(group: Sequence[LineNote], ornament: Ornament) -> Main:
    first, last = group[0], group[-1]
    if ornament in ("", "grace", "slide"):
        graces = tuple(note.pitch for note in group[:-1])
        return Main(last, last.heard_beat, last.heard_beats, ornament, graces)
    pitch = min(first.pitch, group[1].pitch) if ornament == "trill" else last.pitch
    main = next(note for note in group if note.pitch == pitch)
    others = tuple(dict.fromkeys(note.pitch for note in group if note.pitch != pitch))
    beats = last.heard_beat + last.heard_beats - first.heard_beat
    return Main(main, first.heard_beat, beats, ornament, others)
