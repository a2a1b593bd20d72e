"""From the text of a chart file to a `Chart`. The room opens no files: it is handed their text.

The keys of a chart file are in `jam.charts.shape`, its changes in `jam.charts.changes_text`, its
melody in `jam.charts.melody_text` and `jam.charts.melody_file`, its form in `jam.charts.form`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from jam.charts.changes_text import TO_CODA, read_changes
from jam.charts.form import Section, Strain, expand, leave_at_coda, passage
from jam.charts.melody_file import melody_from_bytes
from jam.charts.melody_text import WrittenNote, read_melody
from jam.charts.metres import METRES, TEMPO_BPM, metre_of
from jam.charts.model import Chart, RoadMap
from jam.charts.shape import ChartShape, EndingShape, SectionShape
from jam.charts.typed import Typed
from jam.errors import InputError
from jam.harmony.keys import Key, parse_key
from jam.harmony.pitch import SymbolError
from jam.transport.metre import Metre
from jam.yaml_text import Lines, Path, path_text, validate

ReadBeside = Callable[[str], bytes]


def load_chart(text: str, source: str, read_beside: ReadBeside | None = None) -> Chart:
    """Return the chart written in ``text``; ``source`` is its name in errors.

    ``read_beside`` returns the bytes of a file that lies beside the chart (a melody), and may
    raise OSError. Raises InputError for whatever cannot be used.
    """
    shape, lines = validate(ChartShape, text, source)
    return _Loading(shape, lines, source, read_beside).chart()


@dataclass(frozen=True, slots=True)
class _Loading:
    shape: ChartShape
    lines: Lines
    source: str
    read_beside: ReadBeside | None

    def chart(self) -> Chart:
        shape, metre = self.shape, self._metre()
        key, tempo_bpm = self._key(), self._tempo_bpm(metre)
        sections = {name: self._section(name, metre) for name in shape.sections}
        form = self._form(sections)
        strains = expand(form, sections)
        if shape.melody_file is not None:
            notes = self._file(shape.melody_file, ("melody_file",))
            strains = self._spread(notes, strains, metre)
        last = self._last(strains, sections, metre)
        self._all_played(strains + last, sections)
        road = shape.road_map
        choruses = None if road.choruses == "open" else road.choruses
        return Chart(
            title=shape.title,
            key=key,
            metre=metre,
            tempo_bpm=tempo_bpm,
            feel=shape.feel,
            chorus=passage(strains, metre.bar_beats),
            last=passage(last, metre.bar_beats),
            road_map=RoadMap(
                road.count_in,
                road.head,
                choruses,
                road.head_out,
                road.tag_last_four,
                road.ending == "fermata",
            ),
            blues=shape.blues,
            about=" ".join(shape.about.split()),
        )

    def error(self, path: Path, problem: str, mend: str) -> InputError:
        known = path
        while known not in self.lines:
            known = known[:-1]
        return InputError(self.source, problem, mend, self.lines[known], path_text(path))

    def typed(self, text: str, *path: str) -> Typed:
        return Typed(text, self.source, self.lines.get(path, 1), path_text(path))

    def _metre(self) -> Metre:
        shape = self.shape
        try:
            return metre_of(shape.metre, shape.pulse)
        except ValueError as error:
            wrong_pulse = "pulse" in str(error)
            mend = "Take quarter, dotted quarter, half or bar; or leave it out."
            if not wrong_pulse:
                mend = "Metres: " + ", ".join(METRES) + "."
            raise self.error(("pulse" if wrong_pulse else "metre",), str(error), mend) from None

    def _key(self) -> Key:
        try:
            return parse_key(self.shape.key)
        except SymbolError as error:
            near = f"Did you mean {error.nearest}? " if error.nearest else ""
            mend = f"{near}Keys are written as Eb major, C minor, F, Dm or D dorian."
            raise self.error(("key",), f"the key {self.shape.key!r} is unknown", mend) from None

    def _tempo_bpm(self, metre: Metre) -> float:
        tempo_bpm = self.shape.tempo * metre.pulse_beats
        low, high = (bound / metre.pulse_beats for bound in TEMPO_BPM)
        if not TEMPO_BPM[0] <= tempo_bpm <= TEMPO_BPM[1]:
            problem = f"a tempo of {self.shape.tempo:g} pulses a minute cannot be played"
            mend = f"With this pulse it lies between {low:g} and {high:g}."
            raise self.error(("tempo",), problem, mend)
        return tempo_bpm

    def _section(self, name: str, metre: Metre) -> Section:
        shape = self.shape.sections[name]
        path = ("sections", name)
        body = self._body(name, shape, metre)
        if shape.bars is not None and shape.bars != len(body.bars):
            problem = f"bars says {shape.bars}, but {len(body.bars)} bars are written"
            raise self.error((*path, "bars"), problem, "Correct the one or the other.")
        first, second = shape.first_ending, shape.second_ending
        if first is None and second is None:
            return Section(body, (), shape.repeat)
        if first is None or second is None:
            missing = "second_ending" if second is None else "first_ending"
            raise self.error(path, f"section {name} has only one ending", f"Add a {missing}.")
        endings = (
            self._ending(name, first, "first_ending", body, metre),
            self._ending(name, second, "second_ending", body, metre),
        )
        return Section(body, endings, shape.repeat)

    def _body(self, name: str, shape: SectionShape, metre: Metre) -> Strain:
        path = ("sections", name)
        bars = read_changes(self.typed(shape.changes, *path, "changes"), metre)
        typed = self.typed(shape.melody or "", *path, "melody")
        notes: tuple[WrittenNote, ...] = ()
        if shape.melody is not None and shape.melody_file is not None:
            mend = "Keep either melody or melody_file."
            raise self.error((*path, "melody"), "the melody is given twice", mend)
        if shape.melody is not None:
            notes = self._notes(typed, len(bars), metre)
        if shape.melody_file is not None:
            field = (*path, "melody_file")
            notes = self._file(shape.melody_file, field)
            self._fits(notes, len(bars) * metre.bar_beats, shape.melody_file, field)
        return Strain(name, bars, notes, typed)

    def _ending(
        self, name: str, shape: EndingShape, key: str, body: Strain, metre: Metre
    ) -> Strain:
        path = ("sections", name, key)
        bars = read_changes(self.typed(shape.changes, *path, "changes"), metre, body.bars)
        typed = self.typed(shape.melody or "", *path, "melody")
        notes = () if shape.melody is None else self._notes(typed, len(bars), metre)
        return Strain(name, bars, notes, typed, opens=False)

    def _notes(self, typed: Typed, bars: int, metre: Metre) -> tuple[WrittenNote, ...]:
        melody = read_melody(typed, metre.bar_beats)
        if melody.bars != bars:
            problem = f"the melody has {melody.bars} bars, the changes have {bars}"
            raise typed.error(problem, "Write as many; a bar of rest is - alone.")
        return melody.notes

    def _file(self, name: str, path: Path) -> tuple[WrittenNote, ...]:
        if self.read_beside is None:
            mend = "Write the melody into the chart."
            raise self.error(path, f"{name!r} cannot be read from here", mend)
        try:
            data = self.read_beside(name)
        except OSError as error:
            reason = error.strerror or "not readable"
            mend = "Put the file beside the chart, or leave the key out."
            raise self.error(path, f"{name!r} cannot be read ({reason})", mend) from None
        try:
            return melody_from_bytes(data, name)
        except ValueError as error:
            mend = "Save it anew as MusicXML or as a MIDI file."
            raise self.error(path, f"{name!r}: {error}", mend) from None

    def _fits(self, notes: tuple[WrittenNote, ...], beats: float, name: str, path: Path) -> None:
        if notes and notes[-1].beat >= beats:
            problem = f"the melody in {name!r} is longer than the {beats:g} beats of its changes"
            raise self.error(path, problem, "Write out the changes of all its bars.")

    def _spread(
        self, notes: tuple[WrittenNote, ...], strains: list[Strain], metre: Metre
    ) -> list[Strain]:
        """Return the strains of a chorus with the melody of the whole chorus laid over them."""
        path = ("melody_file",)
        if any(strain.notes for strain in strains):
            mend = "Keep the melodies of the sections, or the melody_file of the whole chart."
            raise self.error(path, "the melody is given twice", mend)
        total = sum(len(strain.bars) for strain in strains) * metre.bar_beats
        self._fits(notes, total, str(self.shape.melody_file), path)
        spread: list[Strain] = []
        start = 0.0
        for strain in strains:
            end = start + len(strain.bars) * metre.bar_beats
            floor = start if spread else float("-inf")
            inside = tuple(
                WrittenNote(n.beat - start, n.beats, n.pitch)
                for n in notes
                if floor <= n.beat < end
            )
            spread.append(replace(strain, notes=inside))
            start = end
        return spread

    def _form(self, sections: dict[str, Section]) -> Typed:
        if self.shape.form is not None:
            return self.typed(self.shape.form, "form")
        beyond = f"{self.shape.road_map.coda or ''} {self.shape.road_map.tag or ''}".split()
        order = " ".join(name for name in sections if name not in beyond)
        return Typed(order, self.source, self.lines[("sections",)], "sections")

    def _last(
        self, strains: list[Strain], sections: dict[str, Section], metre: Metre
    ) -> list[Strain]:
        road, last = self.shape.road_map, list(strains)
        left = leave_at_coda(strains, metre.bar_beats)
        if road.coda is not None:
            path: Path = ("road_map", "coda")
            if left is None:
                mend = f"Write {TO_CODA} after the chords of the bar where the last time leaves."
                raise self.error(path, "no bar of the form is marked", mend)
            last = left + expand(self.typed(road.coda, "road_map", "coda"), sections)
        elif left is not None:
            problem = f"a bar is marked {TO_CODA}, but there is no coda"
            mend = "Name the coda's section, as in `coda: C`, or take the mark out."
            raise self.error(("sections", left[-1].section, "changes"), problem, mend)
        if road.tag is not None:
            last += expand(self.typed(road.tag, "road_map", "tag"), sections)
        return last

    def _all_played(self, played: list[Strain], sections: dict[str, Section]) -> None:
        heard = {strain.section for strain in played}
        for name in sections:
            if name not in heard:
                mend = "Name it in form, coda or tag, or take it out."
                raise self.error(("sections", name), f"section {name} is never played", mend)
