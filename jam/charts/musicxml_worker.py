"""Reads a MusicXML lead sheet with music21 and prints it as one line of JSON.

Run as ``python -m jam.charts.musicxml_worker FILE``, in a process of its own: music21 takes long
to import and holds the interpreter while it reads. The line is a `jam.charts.sheet.Sheet`, or
``{"problem": "..", "mend": ".."}``. Nothing else in the package imports this module.

Repeats and endings are played out. Chords are taken from the elements kind, degree, root and bass,
never from their display text. Of notes that sound together the highest is kept. A bar that a
repeat sign cuts in two is put together again.

Source of the kinds: MusicXML 4.0 (W3C), data type kind-value; music21 renames some of them.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, Final

from music21 import converter, harmony, meter, repeat, stream, tempo
from music21 import key as keys

from jam.charts.sheet import Sheet, SheetBar

_KINDS: Final = {
    "major": "",
    "minor": "m",
    "augmented": "aug",
    "diminished": "dim",
    "dominant-seventh": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "7#5",
    "augmented-major-seventh": "maj7#5",
    "half-diminished-seventh": "m7b5",
    "minor-major-seventh": "m(maj7)",
    "seventh-flat-five": "7b5",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "minor-major-ninth": "m(maj9)",
    "augmented-dominant-ninth": "9#5",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "suspended-fourth-seventh": "7sus4",
    "power": "5",
}
# An added seventh counts from a minor one (MusicXML 4.0, degree-alter): alter 1 is a major seventh.
_STEMS: Final = {
    ("", "7"): "7",
    ("", "b7"): "7",
    ("", "#7"): "maj7",
    ("m", "7"): "m7",
    ("m", "b7"): "m7",
    ("m", "#7"): "m(maj7)",
    ("dim", "7"): "m7b5",
    ("dim", "b7"): "dim7",
    ("aug", "7"): "7#5",
    ("aug", "#7"): "maj7#5",
    ("sus4", "7"): "7sus4",
    ("sus4", "b7"): "7sus4",
    ("m7", "b5"): "m7b5",
}


class SheetError(Exception):
    """What is wrong with the file, and what mends it."""

    def __init__(self, problem: str, mend: str) -> None:
        super().__init__(problem)
        self.problem, self.mend = problem, mend


def read_sheet(path: Path) -> Sheet:
    """Return the lead sheet in the file at ``path``. Raises SheetError."""
    try:
        score: Any = converter.parseFile(
            path, format="musicxml", forceSource=True, storePickle=False
        )
    except Exception as error:  # music21 raises whatever its readers meet
        mend = "Save it anew as MusicXML from your notation program."
        raise SheetError(f"this cannot be read as MusicXML ({_brief(error)})", mend) from None
    parts = [part for part in score.parts if part.recurse().getElementsByClass(harmony.Harmony)]
    if not parts:
        mend = "Chord symbols must be entered as chord symbols, not as plain text."
        raise SheetError("there are no chord symbols in it", mend)
    part = _played_out(parts[0])
    title = score.metadata.bestTitle if score.metadata else None
    bars, melody = _bars(part)
    words = " ".join(
        str(e.content).lower() for e in part.recurse().getElementsByClass("TextExpression")
    )
    marks = list(part.recurse().getElementsByClass(tempo.MetronomeMark))
    words += " ".join(str(mark.text or "").lower() for mark in marks)
    straight = any(word in words for word in ("straight", "even 8", "bossa", "latin"))
    bpm = next((mark.getQuarterBPM() for mark in marks if mark.number or mark.numberSounding), None)
    return Sheet(
        title=str(title or path.stem),
        key=_key(part, bars),
        metre=_metre(part),
        tempo_bpm=float(bpm or 120.0),
        feel="straight" if straight else "swing",
        bars=bars,
        melody=melody,
    )


def _played_out(part: Any) -> Any:
    try:
        expander = repeat.Expander(part)
        expandable = expander.isExpandable()
        if expandable is None:
            return part
        if expandable:
            return expander.process()
    except Exception as error:  # see read_sheet
        problem = f"its repeats cannot be played out ({_brief(error)})"
    else:
        problem = "its repeats and endings do not fit together"
    raise SheetError(problem, "Check repeat signs, endings and coda, or write the bars out.")


def _metre(part: Any) -> str:
    signatures = list(part.recurse().getElementsByClass(meter.TimeSignature))
    return signatures[0].ratioString if signatures else "4/4"


def _key(part: Any, bars: list[SheetBar]) -> str:
    found = list(part.recurse().getElementsByClass(keys.KeySignature))
    if not found:
        return "C major"
    if isinstance(found[0], keys.Key):
        return f"{_name(found[0].tonic)} {found[0].mode}"
    # The signature does not say which: a first or last minor chord on its sixth degree decides.
    minor = _name(found[0].asKey("minor").tonic)
    symbols = [symbol for bar in bars for _, symbol in bar["changes"]]
    if any(
        s.startswith(f"{minor}m") and not s.startswith(f"{minor}maj")
        for s in symbols[:1] + symbols[-1:]
    ):
        return f"{minor} minor"
    return f"{_name(found[0].asKey('major').tonic)} major"


def _bars(part: Any) -> tuple[list[SheetBar], list[tuple[float, float, int]]]:
    bars: list[SheetBar] = []
    melody: list[tuple[float, float, int]] = []
    start = left = 0.0
    nominal, section, pickup = 4.0, "A", None
    for index, measure in enumerate(part.getElementsByClass(stream.Measure)):
        if measure.timeSignature is not None:
            nominal = float(measure.timeSignature.barDuration.quarterLength)
        for mark in measure.getElementsByClass("RehearsalMark"):
            section = str(mark.content)
        length = _length(measure) or nominal
        if index == 0 and length < nominal - 1e-6:
            pickup = measure.number
            _notes(measure, -length, melody)
            continue
        if measure.number == pickup:
            # Played again, it lies in the bar before, whether that one leaves room or has a rest.
            left = length
        joins = left > 0 and abs(length - left) < 1e-6
        if joins:
            # The second half of a bar that a repeat sign has cut in two.
            start -= left
            changes = _changes(measure, nominal - left)
            bars[-1]["changes"].extend(changes)
        else:
            bars.append(SheetBar(beats=nominal, section=section, changes=_changes(measure, 0.0)))
        _notes(measure, start, melody)
        start += left if joins else nominal
        left = 0.0 if joins else max(0.0, nominal - length)
    if not bars:
        raise SheetError("there are no bars in it", "Write at least one bar with a chord symbol.")
    return bars, melody


def _length(measure: Any) -> float:
    """Return how far notes and rests fill the bar, in beats (0: there are none)."""
    written = [e for e in measure.recurse().notesAndRests if not isinstance(e, harmony.Harmony)]
    ends = [float(e.getOffsetInHierarchy(measure) + e.quarterLength) for e in written]
    return max(ends, default=0.0)


def _changes(measure: Any, shift: float) -> list[tuple[float, str]]:
    chords = measure.recurse().getElementsByClass(harmony.Harmony)
    placed = [(float(c.getOffsetInHierarchy(measure)) + shift, _symbol(c)) for c in chords]
    return sorted(placed, key=lambda change: change[0])


def _notes(measure: Any, start: float, melody: list[tuple[float, float, int]]) -> None:
    sounding = []
    for note in measure.recurse().notes:
        if isinstance(note, harmony.Harmony) or not note.pitches or not note.quarterLength:
            continue
        top = max(note.pitches, key=lambda p: p.midi)
        tied = note.tie is not None and note.tie.type in ("stop", "continue")
        at = float(note.getOffsetInHierarchy(measure)) + start
        sounding.append((at, -int(top.midi), float(note.quarterLength), tied))
    for at, below, beats, tied in sorted(sounding):
        pitch = -below
        last = melody[-1] if melody else None
        if last and abs(last[0] - at) < 1e-6:
            continue
        if last and tied and last[2] == pitch and abs(last[0] + last[1] - at) < 1e-6:
            melody[-1] = (last[0], last[1] + beats, pitch)
            continue
        if last and last[0] + last[1] > at:
            melody[-1] = (last[0], at - last[0], last[2])
        melody.append((at, beats, pitch))


def _symbol(chord: Any) -> str:
    """Return a chord symbol in letters, from kind, degrees, root and bass."""
    if isinstance(chord, harmony.NoChord):
        return "N.C."
    suffix = _KINDS.get(chord.chordKind)
    root, bass = chord.root(), chord.bass()
    if suffix is None or root is None:
        mend = "Choose a chord type of jazz or popular practice for it."
        raise SheetError(f"a chord is of the kind {chord.chordKind!r}, which is unknown", mend)
    symbol = _name(root) + _with_degrees(suffix, chord.getChordStepModifications())
    slash = bass is not None and bass.pitchClass != root.pitchClass
    return f"{symbol}/{_name(bass)}" if slash else symbol


def _with_degrees(suffix: str, modifications: list[Any]) -> str:
    names = []
    for modification in modifications:
        alter = int(modification.interval.semitones)
        if modification.modType != "subtract":
            names.append(("b" * -alter if alter < 0 else "#" * alter) + str(modification.degree))
    taken = [m.degree for m in modifications if m.modType == "subtract"]
    if 3 in taken and "4" in names:
        names.remove("4")
        suffix += "sus4"
    for name in tuple(names):
        if (suffix, name) in _STEMS:
            suffix = _STEMS[suffix, name]
            names.remove(name)
    if suffix in ("", "m") and len(names) == 1 and names[0][0].isdigit():
        return f"{suffix}add{names[0]}" if suffix == "" else f"{suffix}(add{names[0]})"
    return f"{suffix}({','.join(names)})" if names else suffix


def _name(pitch: Any) -> str:
    return str(pitch.name).replace("-", "b")


def _brief(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text if len(text) <= 120 else f"{text[:117]}..."


def main(arguments: list[str]) -> int:
    """Print the sheet in the file named, or what is wrong with it, as one line of JSON."""
    try:
        answer: object = read_sheet(Path(arguments[0]))
    except SheetError as error:
        answer = {"problem": error.problem, "mend": error.mend}
    sys.stdout.write(json.dumps(answer) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
