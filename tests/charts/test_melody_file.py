"""Melodies from MIDI and MusicXML files beside a chart.

References: mido writes the MIDI files, music21 the MusicXML ones.
"""

from __future__ import annotations

import contextlib
import io
import random
import zipfile

import mido
import pytest
from music21 import chord, meter, note, stream, tie
from music21.musicxml.m21ToXml import GeneralObjectExporter

from jam.charts.loader import load_chart
from jam.charts.melody_file import melody_from_bytes
from jam.errors import InputError

CHART = """
title: Try
key: C
metre: 4/4
tempo: 120
melody_file: {name}
sections:
  A: {{changes: C6 | F6 to_coda}}
  B: {{changes: G7}}
  Z: {{changes: C6}}
form: A B
road_map: {{coda: Z}}
"""


def midi(*notes: tuple[float, float, int], channel: int = 0) -> bytes:
    """Return a file with notes of (beat, beats, pitch); velocity 0 ends them."""
    events = [(b, 1, p) for b, _, p in notes] + [(b + d, 0, p) for b, d, p in notes]
    track, now = mido.MidiTrack(), 0
    for beat, on, pitch in sorted(events):
        ticks = round(beat * 480)
        track.append(
            mido.Message("note_on", note=pitch, velocity=64 * on, time=ticks - now, channel=channel)
        )
        now = ticks
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def musicxml() -> bytes:
    """Return a part with a pickup, a tie over the bar line, a triplet, a chord and a rest."""
    part = stream.Part()
    pickup = stream.Measure(number=0)
    pickup.append([meter.TimeSignature("4/4"), note.Note("G4", quarterLength=1.0)])
    pickup.paddingLeft = 3.0
    one, two = stream.Measure(number=1), stream.Measure(number=2)
    held, on = note.Note("C5", quarterLength=2.0), note.Note("C5", quarterLength=1.0)
    held.tie, on.tie = tie.Tie("start"), tie.Tie("stop")
    triplet = [note.Note(name, quarterLength=1 / 3) for name in ("E5", "D5", "C#5")]
    one.append([*triplet, note.Rest(quarterLength=1.0), held])
    two.append([on, chord.Chord(["F4", "A4"], quarterLength=3.0)])
    part.append([pickup, one, two])
    return GeneralObjectExporter(part).parse()


HEARD = [
    (-1.0, 1.0, 67),
    (0.0, 1 / 3, 76),
    (1 / 3, 1 / 3, 74),
    (2 / 3, 1 / 3, 73),
    (2.0, 3.0, 72),
    (5.0, 3.0, 69),
]


def places(data: bytes, name: str) -> list[tuple[float, float, int | None]]:
    return [(n.beat, n.beats, n.pitch) for n in melody_from_bytes(data, name)]


def test_midi_line() -> None:
    """Notes keep their beats; of two that begin together the highest stays, cut by the next."""
    data = midi((0, 2, 60), (0, 2, 64), (1, 1, 62), (3, 0.5, 60))
    assert places(data, "a.mid") == [(0, 1, 64), (1, 1, 62), (3, 0.5, 60)]


def test_midi_drums_are_no_melody() -> None:
    """Channel 10 is percussion (General MIDI), so a file of drums has no melody."""
    with pytest.raises(ValueError, match="no notes"):
        melody_from_bytes(midi((0, 1, 60), channel=9), "a.mid")


def test_musicxml_line() -> None:
    """Pickup, triplet, tie and top note come back as music21 was given them."""
    found = places(musicxml(), "a.musicxml")
    assert [p for _, _, p in found] == [p for _, _, p in HEARD]
    for (beat, beats, _), (beat_, beats_, _) in zip(found, HEARD, strict=True):
        assert (beat, beats) == pytest.approx((beat_, beats_))


def test_zipped_musicxml() -> None:
    """The score inside an .mxl archive is found."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("META-INF/container.xml", "<container/>")
        archive.writestr("score.xml", musicxml())
    assert len(places(out.getvalue(), "a.mxl")) == len(HEARD)


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"", "a.mid", "no MIDI file"),
        (b"MThd\0\0\0\6", "a.mid", "no MIDI file"),
        (midi((0, 1, 60))[:22] + b"\0\xff\x59\2\x53\0", "a.mid", "Could not decode key"),
        (b"", "a.xml", "no MusicXML"),
        (b"<score/>", "a.xml", "written by parts"),
        (b"PK\3\4", "a.mxl", "no MusicXML"),
        (b"<!DOCTYPE a [<!ENTITY b 'c'>]><a/>", "a.xml", "entities"),
        (b"x", "a.wav", "its ending"),
    ],
)
def test_broken_files(data: bytes, name: str, words: str) -> None:
    """A file that cannot be used is told in plain words."""
    with pytest.raises(ValueError, match=words):
        melody_from_bytes(data, name)


@pytest.mark.parametrize(
    ("whole", "name"), [(midi((0, 1, 60), (1, 1, 62)), "a.mid"), (musicxml(), "a.xml")]
)
def test_damaged_files_never_trace_back(whole: bytes, name: str) -> None:
    """Whatever bytes are damaged, there are notes or one ValueError."""
    dice = random.Random(7)
    for _ in range(300):
        data = bytearray(whole[: dice.randrange(len(whole))] if dice.random() < 0.3 else whole)
        for _ in range(dice.randrange(4)):
            if data:
                data[dice.randrange(len(data))] = dice.randrange(256)
        with contextlib.suppress(ValueError):
            assert melody_from_bytes(bytes(data), name)


def test_a_file_for_the_whole_chart() -> None:
    """The melody lies over the chorus; the last time it is cut where the coda begins."""
    data = midi((0, 6, 60), (7, 3, 62), (10, 2, 64))
    made = load_chart(CHART.format(name="tune.mid"), "try.yaml", {"tune.mid": data}.__getitem__)
    assert [(n.beat, n.beats, n.pitch) for n in made.chorus.melody] == [
        (0, 6, 60),
        (7, 3, 62),
        (10, 2, 64),
    ]
    assert [(n.beat, n.beats, n.pitch) for n in made.last.melody] == [(0, 6, 60), (7, 1, 62)]


def test_a_file_for_a_section() -> None:
    """A section may name a file of its own."""
    text = CHART.replace("melody_file: {name}\n", "").replace("G7", "G7, melody_file: b.mid")
    made = load_chart(text.format(name=""), "try.yaml", lambda name: midi((1, 2, 65)))
    assert [(n.beat, n.beats, n.pitch) for n in made.chorus.melody] == [(9, 2, 65)]


def _missing(name: str) -> bytes:
    raise FileNotFoundError(2, "No such file or directory", name)


def test_a_file_that_cannot_be_used() -> None:
    """A missing, broken or overlong file is one error at its key."""
    text = CHART.format(name="tune.mid")
    long = midi((0, 1, 60), (99, 1, 60))
    for read, words in (
        (_missing, "cannot be read (No such file"),
        (lambda name: b"junk", "is no MIDI file"),
        (lambda name: long, "longer than the 12 beats"),
        (None, "cannot be read from here"),
    ):
        with pytest.raises(InputError) as caught:
            load_chart(text, "try.yaml", read)
        assert words in str(caught.value)
        assert (caught.value.line, caught.value.field) == (6, "melody_file")
