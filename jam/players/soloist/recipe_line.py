"""A recipe's line in time: where each of its notes begins, over which chord, and how high above
the first note it lies. Which octave all of it is played in is decided elsewhere.

The line goes over to the next chord on its change, or up to an eighth ahead of it where the line
has got that far; a landing falls on the change itself. Where the chords are shorter than those
the recipe is written for, what would run over the change is left out; where they are longer, the
line waits for the change. A recipe for one chord lands on the next bar line where no other chord
follows; one for a progression ends there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from jam.harmony.changes import Change, Changes
from jam.harmony.keys import Key
from jam.players.soloist.recipe_degrees import Step, steps_of
from jam.players.soloist.slots import TICKS, to_ticks
from jam.styles.recipe_places import BAR_TICKS, LOOSE_TICKS
from jam.styles.recipe_text import LineRecipe
from jam.styles.recipe_words import PACES, Device
from jam.transport.metre import Bars


@dataclass(slots=True)
class LineNote:
    """A note of a line: its place and length in ticks, its height in semitones above C of the
    octave in which the first chord's root lies, the change it is judged on, what the recipe asks
    for in words, and the device it belongs to."""

    tick: int
    ticks: int
    height: int
    change: Change
    asked: str
    device: str
    landing: bool = False

    @property
    def end(self) -> int:
        """Return the tick at which it ends."""
        return self.tick + self.ticks


def start_tick(recipe: LineRecipe, beat: float) -> int:
    """Return the tick on which the line begins when its first chord begins on ``beat``.

    A pickup keeps its distance from the chord in any metre: ``and of 4 before`` is an eighth.
    """
    start = recipe.start
    return to_ticks(beat) + start.ticks - start.before * BAR_TICKS


def in_time(
    recipe: LineRecipe, changes: Changes, start_beat: float, bars: Bars, key: Key | None = None
) -> list[LineNote]:
    """Return the line as written, its first chord being the one that holds at ``start_beat``."""
    return list(_Walk(recipe, changes, start_beat, bars, key).notes())


class _Walk:
    """One pass along a line: the cursor in time, the chord, and the octave of its root."""

    def __init__(
        self,
        recipe: LineRecipe,
        changes: Changes,
        start_beat: float,
        bars: Bars,
        key: Key | None,
    ) -> None:
        self._devices = recipe.devices
        self._stays = not recipe.meant_for.chords
        self._changes, self._bars, self._key = changes, bars, key
        self._index = changes.index_at(start_beat)
        self._tick = start_tick(recipe, start_beat)
        self._pace = PACES["eighths"]
        self._root: int | None = self._change.chord.root
        self._height: int | None = None
        self._found: list[LineNote] = []

    @property
    def _change(self) -> Change:
        return self._changes[self._index]

    def notes(self) -> list[LineNote]:
        """Walk the line and return its notes, none running into the next."""
        for device in self._devices:
            match device.kind:
                case "pace":
                    self._pace = device.ticks
                case "rest":
                    self._tick += device.ticks or self._pace
                case "hold" if self._found:
                    held = self._found[-1]
                    held.ticks = device.ticks
                    self._tick = held.end
                case "hold":
                    pass
                case "next" | "land":
                    if not self._go_over(device):
                        break
                case _:
                    self._play(device)
        return _in_line(self._found)

    def _go_over(self, device: Device) -> bool:
        """Go on to the next chord; return False where the line ends for want of one."""
        land = device.kind == "land"
        if self._index + 1 >= len(self._changes):
            if land and self._stays and self._height is not None:
                self._land_at_bar(device)
            return self._stays
        self._index += 1
        change = to_ticks(self._change.beat)
        if self._tick > change:
            self._found = [note for note in self._found if note.tick < change]
        ahead = change - self._tick
        self._tick = change if land or not 0 <= ahead <= LOOSE_TICKS else self._tick
        self._root = None
        if land:
            self._play(device)
        return True

    def _land_at_bar(self, device: Device) -> None:
        bar, into = self._bars.at(self._tick / TICKS)
        if into > 1e-6:
            self._tick = to_ticks(self._bars.start(bar + 1))
        self._play(device)

    def _play(self, device: Device) -> None:
        for semitones, asked in self._leapt(device, steps_of(device, self._change, self._key)):
            root = self._root
            if root is None:
                root = self._root = self._nearest_root(semitones)
            self._height = root + semitones
            self._found.append(
                LineNote(
                    self._tick,
                    self._pace,
                    self._height,
                    self._change,
                    asked,
                    device.words,
                    device.kind == "land",
                )
            )
            self._tick += self._pace

    def _nearest_root(self, semitones: int) -> int:
        """Return the octave of the new chord's root in which its first note lies nearest."""
        root = self._change.chord.root
        before = root if self._height is None else self._height
        return root + 12 * round((before - root - semitones) / 12 - 1e-6)

    def _leapt(self, device: Device, steps: list[Step]) -> Iterator[Step]:
        """Yield the steps; a leap's goal in the nearest octave that lies the way it goes."""
        for semitones, asked in steps:
            if device.kind == "leap" and self._height is not None and self._root is not None:
                away = (self._root + semitones - self._height) % 12 or 12
                away = away if device.up else (away - 12 or -12)
                yield self._height + away - self._root, asked
            else:
                yield semitones, asked


def _in_line(notes: list[LineNote]) -> list[LineNote]:
    """Return the notes in order, each cut where the next begins."""
    for note, following in pairwise(notes):
        note.ticks = max(1, min(note.ticks, following.tick - note.tick))
    return notes
