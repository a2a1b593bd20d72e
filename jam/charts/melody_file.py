"""A melody from the bytes of a MIDI file or a MusicXML file that lies beside a chart.

Of a MIDI file the notes of all channels but 10 (drums) are taken, beat 0 being the first downbeat.
Of a MusicXML file the first part is taken, with ties joined and grace notes left out; a first
measure shorter than its metre is a pickup and lies before beat 0. Repeats are not played: the bars
are taken as they stand. Where notes sound together the highest one is kept.

Sources: Standard MIDI File 1.0; MusicXML 4.0 (W3C), elements note, backup, forward, tie.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from typing import Final
from xml.etree import ElementTree

import mido
from mido.midifiles.meta import KeySignatureError

from jam.charts.melody_text import WrittenNote

_STEPS: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_MAX_BYTES: Final = 20_000_000


def melody_from_bytes(data: bytes, name: str) -> tuple[WrittenNote, ...]:
    """Return the melody in the file called ``name``. Raises ValueError that says what is wrong."""
    ending = name.lower().rpartition(".")[2]
    if ending in ("mid", "midi", "smf"):
        notes = _from_midi(data)
    elif ending in ("musicxml", "xml", "mxl"):
        notes = _from_musicxml(data)
    else:
        raise ValueError("its ending is none of .musicxml, .xml, .mxl, .mid, .midi")
    if not notes:
        raise ValueError("there are no notes in it")
    return _one_line(notes)


def _one_line(notes: list[WrittenNote]) -> tuple[WrittenNote, ...]:
    """Return one note at a time: the highest of those that begin together, each cut by the next."""
    line: list[WrittenNote] = []
    for note in sorted(notes, key=lambda n: (n.beat, -(n.pitch or 0))):
        if line and note.beat - line[-1].beat < 1e-6:
            continue
        if line and line[-1].beat + line[-1].beats > note.beat:
            line[-1] = replace(line[-1], beats=note.beat - line[-1].beat)
        line.append(note)
    return tuple(line)


def _from_midi(data: bytes) -> list[WrittenNote]:
    try:
        file = mido.MidiFile(file=io.BytesIO(data))
        ticks_per_beat = file.ticks_per_beat
        messages = list(mido.merge_tracks(file.tracks))
    except (OSError, ValueError, EOFError, LookupError, TypeError, KeySignatureError) as error:
        reason = str(error) or "it ends too early"
        raise ValueError(f"it is no MIDI file ({reason})") from None
    if ticks_per_beat <= 0:
        raise ValueError("its time is not counted in beats")
    notes, ticks = [], 0
    begun: dict[tuple[int, int], int] = {}
    for message in messages:
        ticks += message.time
        if message.type not in ("note_on", "note_off") or message.channel == 9:
            continue
        place = (message.channel, message.note)
        start = begun.pop(place, None)
        if start is not None and ticks > start:
            beats = (ticks - start) / ticks_per_beat
            notes.append(WrittenNote(start / ticks_per_beat, beats, message.note))
        if message.type == "note_on" and message.velocity > 0:
            begun[place] = ticks
    return notes


def _from_musicxml(data: bytes) -> list[WrittenNote]:
    try:
        if data[:2] == b"PK":
            data = _unzipped(data)
        if b"<!ENTITY" in data:
            raise ValueError("it defines entities")
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, zipfile.BadZipFile, KeyError) as error:
        raise ValueError(f"it is no MusicXML file ({error})") from None
    part = root.find("part")
    if root.tag != "score-partwise" or part is None:
        raise ValueError("it is no MusicXML score written by parts")
    try:
        return _joined(_part_notes(part))
    except (TypeError, ValueError, KeyError, ZeroDivisionError) as error:
        raise ValueError(f"a note in it cannot be read ({error})") from None


def _unzipped(data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for entry in archive.infolist():
            scores = (".xml", ".musicxml")
            if entry.filename.endswith(scores) and not entry.filename.startswith("META-INF"):
                if entry.file_size > _MAX_BYTES:
                    raise ValueError("the score in it is too large")
                return archive.read(entry)
    raise ValueError("there is no score in it")


def _part_notes(part: ElementTree.Element) -> Iterator[tuple[WrittenNote, bool]]:
    """Yield each note, and whether it goes on the one before it of the same pitch."""
    start, divisions = 0.0, 1.0
    for index, measure in enumerate(part.findall("measure")):
        at = end = onset = start
        shift = _pickup_beats(measure) if index == 0 else 0.0
        for element in measure:
            divisions = float(element.findtext("divisions") or divisions)
            beats = float(element.findtext("duration") or 0.0) / divisions
            if element.tag == "backup":
                at -= beats
            elif element.tag == "forward":
                at += beats
            elif element.tag == "note" and element.find("grace") is None:
                if element.find("chord") is None:
                    onset, at = at, at + beats
                pitch = element.find("pitch")
                if pitch is not None and beats > 0:
                    ties = [tie.get("type") for tie in element.findall("tie")]
                    yield WrittenNote(onset - shift, beats, _pitch(pitch)), "stop" in ties
            end = max(end, at)
        start = end - shift


def _pickup_beats(measure: ElementTree.Element) -> float:
    """Return the beats of a first measure that is shorter than its metre; 0 of a full one."""
    over, under = (measure.findtext(f"attributes/time/{tag}") for tag in ("beats", "beat-type"))
    full = float(over or 4) * 4.0 / float(under or 4)
    divisions = float(measure.findtext("attributes/divisions") or 1.0)
    notes = [n for n in measure.findall("note") if n.find("chord") is None]
    voice = notes[0].findtext("voice") if notes else None
    same = [n for n in notes if n.findtext("voice") == voice]
    beats = sum(float(n.findtext("duration") or 0.0) for n in same) / divisions
    return beats if beats < full - 1e-6 else 0.0


def _pitch(pitch: ElementTree.Element) -> int:
    step, octave = _STEPS[pitch.findtext("step") or ""], int(pitch.findtext("octave") or "4")
    return 12 * (octave + 1) + step + round(float(pitch.findtext("alter") or 0.0))


def _joined(notes: Iterator[tuple[WrittenNote, bool]]) -> list[WrittenNote]:
    joined: list[WrittenNote] = []
    for note, goes_on in notes:
        if goes_on:
            for index in range(len(joined) - 1, -1, -1):
                if joined[index].pitch == note.pitch:
                    long = joined[index].beats + note.beats
                    joined[index] = replace(joined[index], beats=long)
                    break
        else:
            joined.append(note)
    return joined
