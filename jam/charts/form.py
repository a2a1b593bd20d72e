"""From written sections to one chorus of bars in a row, and to the chorus of the last time.

The form names sections in order: ``A A B A``. A section with endings takes its first ending the
first time it is played in a chorus and its second one from then on; ``A1`` and ``A2`` say it
outright. The last time leaves after the last bar marked ``to_coda`` and goes on with the coda; the
tag follows at the very end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from jam.charts.changes_text import WrittenBar
from jam.charts.melody_text import WrittenNote
from jam.charts.model import Bar, MelodyNote, Passage
from jam.charts.typed import Typed
from jam.yaml_text import did_you_mean

MAX_BARS = 1000
"""More bars than this in one chorus are taken for a slip."""


@dataclass(frozen=True, slots=True)
class Strain:
    """Bars played in one go, with their melody; ``typed`` is where the melody was written.

    ``opens`` says that a section begins with them.
    """

    section: str
    bars: tuple[WrittenBar, ...]
    notes: tuple[WrittenNote, ...]
    typed: Typed
    opens: bool = True


@dataclass(frozen=True, slots=True)
class Section:
    """A section: its own bars, then one of its two endings, if it has any."""

    body: Strain
    endings: tuple[Strain, ...] = ()
    repeat: int = 1


def expand(words: Typed, sections: Mapping[str, Section]) -> list[Strain]:
    """Return the strains that the form in ``words`` plays, in order.

    Raises InputError for a name that is no section, or a form without end.
    """
    strains: list[Strain] = []
    times: Counter[str] = Counter()
    for word in words.text.split():
        name, ending = _resolve(word, words, sections)
        section = sections[name]
        for _ in range(1 if ending else section.repeat):
            times[name] += 1
            strains.append(section.body)
            if section.endings:
                strains.append(section.endings[(ending or min(times[name], 2)) - 1])
        if sum(len(strain.bars) for strain in strains) > MAX_BARS:
            raise words.error(f"more than {MAX_BARS} bars", "Write one chorus only.")
    if not strains:
        raise words.error("no section is named", "Name sections in order, as in A A B A.")
    return strains


def _resolve(word: str, words: Typed, sections: Mapping[str, Section]) -> tuple[str, int]:
    """Return the section's name and the number of the ending asked for (0: none)."""
    if word in sections:
        return word, 0
    name, number = word[:-1], word[-1]
    if number in "12" and name in sections:
        if sections[name].endings:
            return name, int(number)
        mend = f"Write {name} alone, or give {name} a first_ending and a second_ending."
        raise words.error(f"`{word}`: section {name} has no endings", mend)
    raise words.error(f"`{word}` is no section", did_you_mean(word, list(sections)))


def leave_at_coda(strains: Sequence[Strain], bar_beats: float) -> list[Strain] | None:
    """Return ``strains`` up to the last bar marked ``to_coda``; None when no bar is."""
    for index in range(len(strains) - 1, -1, -1):
        strain = strains[index]
        marks = [i for i, bar in enumerate(strain.bars) if bar.to_coda]
        if marks:
            kept = marks[-1] + 1
            end = kept * bar_beats
            notes = [n for n in strain.notes if n.beat < end]
            notes = [replace(n, beats=min(n.beats, end - n.beat)) for n in notes]
            cut = replace(strain, bars=strain.bars[:kept], notes=tuple(notes))
            return [*strains[:index], cut]
    return None


def passage(strains: Sequence[Strain], bar_beats: float) -> Passage:
    """Return the strains in a row, with holds joined and pickups laid over the bar before.

    Raises InputError for a hold with nothing to hold, or a pickup over other notes.
    """
    bars: list[Bar] = []
    melody: list[MelodyNote] = []
    for strain in strains:
        start = len(bars) * bar_beats
        bars += [
            Bar(bar_beats, bar.changes, strain.section, opens=strain.opens and number == 0)
            for number, bar in enumerate(strain.bars)
        ]
        for note in strain.notes:
            _place(melody, note, start, strain)
    return Passage(tuple(bars), tuple(melody))


def _place(melody: list[MelodyNote], note: WrittenNote, start: float, strain: Strain) -> None:
    at = start + note.beat
    last = melody[-1] if melody else None
    if note.pitch is None:
        if last is None or abs(last.beat + last.beats - at) > 1e-6:
            problem = f"section {strain.section} begins with a hold, but no note sounds before it"
            raise strain.typed.error(problem, "Begin with a note, or with - for a rest.")
        melody[-1] = replace(last, beats=last.beats + note.beats)
        return
    if last is not None and last.beat + last.beats > at + 1e-6:
        if last.beat > at - 1e-6:
            problem = f"the pickup of section {strain.section} meets the notes of the bar before"
            raise strain.typed.error(problem, "End that bar with rests where the pickup begins.")
        melody[-1] = replace(last, beats=at - last.beat)
    melody.append(MelodyNote(at, note.beats, note.pitch))
