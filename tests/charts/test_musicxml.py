"""MusicXML lead sheets, written by music21 (the reference) and read back.

The first test and that of junk go through the worker process, the others call what runs in it.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from music21 import bar, harmony, key, metadata, meter, note, spanner, stream, tempo

from jam.charts.model import Chart
from jam.charts.musicxml_worker import SheetError, read_sheet
from jam.charts.sheet import chart_of_sheet
from jam.errors import InputError
from jam.harmony.symbols import parse_chord
from jam.session.musicxml import read_musicxml

# music21's figure (its flat is "-") and the symbol meant.
CHORDS = {
    "F": "F",
    "B-7": "Bb7",
    "F#m7": "F#m7",
    "Cmaj7": "Cmaj7",
    "A/C#": "A/C#",
    "Bm7b5": "Bm7b5",
    "E7b9": "E7b9",
    "E-dim7": "Ebdim7",
    "C6": "C6",
    "Dm6": "Dm6",
    "CmM7": "Cm(maj7)",
    "G9": "G9",
    "G13": "G13",
    "G7sus4": "G7sus4",
    "Caug": "Caug",
    "C7#11": "C7#11",
    "Gsus4": "Gsus4",
    "Dm9": "Dm9",
}


def measure(number: int, chords: str, notes: str = "") -> stream.Measure:
    """Return a 4/4 bar with chords on equal shares and quarter notes (or a whole rest)."""
    made = stream.Measure(number=number)
    figures = chords.split()
    for index, figure in enumerate(figures):
        made.insert(index * 4.0 / len(figures), harmony.ChordSymbol(figure))
    made.append([note.Note(n, quarterLength=1.0) for n in notes.split()])
    if not notes:
        made.insert(0.0, note.Rest(quarterLength=4.0))
    return made


def written(tmp_path: Path, measures: list[stream.Measure], signature: str = "4/4") -> Path:
    part = stream.Part()
    measures[0].insert(0.0, meter.TimeSignature(signature))
    part.append(measures)
    score = stream.Score([part])
    score.insert(0, metadata.Metadata(title="Try"))
    path = tmp_path / "try.musicxml"
    score.write("musicxml", path)
    return path


def read(path: Path) -> Chart:
    return chart_of_sheet(read_sheet(path), path.name)


def symbols(chart: Chart) -> list[str]:
    return [" ".join(c.chord.symbol for c in one.changes) for one in chart.chorus.bars]


@pytest.mark.slow
def test_chords_melody_and_facts_come_back(tmp_path: Path) -> None:
    """Chords, key, tempo, title, pickup and melody are those that music21 was given."""
    pickup = stream.Measure(number=0)
    pickup.paddingLeft = 3.0
    pickup.append([key.Key("g"), tempo.MetronomeMark(number=132), note.Note("C4")])
    bars = [measure(i, figure) for i, figure in enumerate(CHORDS, start=1)]
    none = measure(len(bars) + 1, "", "A4 B4 C5 D5")
    none.insert(0.0, harmony.NoChord())
    half = measure(len(bars) + 2, "Dm7 G7")
    chart = read_musicxml(written(tmp_path, [pickup, *bars, none, half]))
    expected = [parse_chord(symbol) for symbol in CHORDS.values()]
    for one, chord in zip(chart.chorus.bars, expected, strict=False):
        assert one.changes[0].chord.same_as(chord), (one.changes[0].chord.symbol, chord.symbol)
    assert symbols(chart)[-2:] == ["N.C.", "Dm7 G7"]
    assert chart.chorus.bars[-1].changes[1].beat == 2.0
    assert (chart.title, chart.key.name, chart.tempo_bpm) == ("Try", "G minor", 132)
    line = [(n.beat, n.beats, n.pitch) for n in chart.chorus.melody]
    start = 4.0 * len(bars)
    assert line == [(-1, 1, 60)] + [(start + i, 1, p) for i, p in enumerate((69, 71, 72, 74))]


@pytest.mark.slow
def test_repeats_and_endings_are_played_out(tmp_path: Path) -> None:
    """First and second endings follow their pass; a bar cut in two by the repeat is one bar."""
    pickup = stream.Measure(number=0)
    pickup.paddingLeft = 3.0
    pickup.append(note.Note("C4", quarterLength=1.0))
    one, two, three = measure(1, "C6"), stream.Measure(number=2), measure(3, "F6")
    two.append([harmony.ChordSymbol("G7"), note.Note("D4", quarterLength=3.0)])
    two.rightBarline = bar.Repeat(direction="end")
    chart = read(written(tmp_path, [pickup, one, two, three]))
    assert symbols(chart) == ["C6", "G7", "C6", "G7", "F6"]
    line = [(n.beat, n.beats, n.pitch) for n in chart.chorus.melody]
    assert line == [(-1, 1, 60), (4, 3, 62), (7, 1, 60), (12, 3, 62)]
    assert all(one.beats == 4.0 for one in chart.chorus.bars)

    bars = [measure(i, f) for i, f in enumerate(["C6", "Dm7", "G7", "E7", "A7"], start=1)]
    bars[0].leftBarline = bar.Repeat(direction="start")
    bars[2].rightBarline = bar.Repeat(direction="end")
    path = written(tmp_path, bars)
    part = stream.Part(bars)
    part.insert(0, spanner.RepeatBracket(bars[2], number=1))
    part.insert(0, spanner.RepeatBracket(bars[3], number=2))
    stream.Score([part]).write("musicxml", path)
    assert symbols(read(path)) == ["C6", "Dm7", "G7", "C6", "Dm7", "E7", "A7"]


@pytest.mark.slow
def test_a_broken_sheet(tmp_path: Path) -> None:
    """A sheet that cannot be used is one error in plain words."""
    path = tmp_path / "bad.musicxml"
    path.write_bytes(b"junk")
    with pytest.raises(InputError, match="cannot be read as MusicXML") as caught:
        read_musicxml(path)
    assert caught.value.source == str(path)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "cannot be read as MusicXML"),
        (b"<score-partwise><part>", "cannot be read as MusicXML"),
        (b"<score-partwise/>", "no chord symbols"),
    ],
)
def test_sheets_without_use(tmp_path: Path, content: bytes, words: str) -> None:
    """What is no MusicXML, or has no chord symbols, is told so."""
    path = tmp_path / "bad.musicxml"
    path.write_bytes(content)
    with pytest.raises(SheetError, match=words):
        read_sheet(path)


def test_unplayable_metre(tmp_path: Path) -> None:
    """A metre that charts do not have is refused."""
    made = stream.Measure(number=1)
    made.append([harmony.ChordSymbol("C"), note.Note("C4", quarterLength=1.75)])
    with pytest.raises(InputError, match="'7/16' cannot be played"):
        read(written(tmp_path, [made], "7/16"))


def test_missing_and_slow_sheets(tmp_path: Path) -> None:
    """A file that is not there, or that takes too long, is one error."""
    with pytest.raises(InputError, match="no such file"):
        read_musicxml(tmp_path / "none.musicxml")
    path = tmp_path / "slow.musicxml"
    path.write_bytes(b"")
    with pytest.raises(InputError, match="longer than 0 seconds"):
        read_musicxml(path, timeout_sec=0.0)
