"""The configuration: what comes along, and what is said about one that cannot be used."""

from __future__ import annotations

import pytest

from jam.core.setup import CUES
from jam.errors import InputError
from jam.listening.who import Split
from jam.session.config import Config, load_config
from jam.session.notes import pitch_of
from jam.session.resources import find_config


def test_the_file_that_comes_along_says_the_usual_values() -> None:
    """What a user leaves out of a file of his own is as the built-in file says."""
    shipped = find_config().value
    assert shipped.model_copy(update={"setups": {}}) == Config()


def test_cues_reach_the_core_as_messages() -> None:
    """Each trigger becomes a message and a number; 67 is the soft pedal (MIDI 1.0)."""
    text = "cues:\n  panic:\n    note: 21\n  next style:\n    control: 67\n"
    assert load_config(text, "jam.yaml").cue_map() == {
        ("note", 21): "panic",
        ("control", 67): "next style",
    }


def test_programs_are_counted_from_one_and_sent_from_zero() -> None:
    """Printed lists begin with program 1; the message carries 0 (MIDI 1.0, General MIDI)."""
    text = "cues: {tap: {program: 1}, stop: {program: 128}, start: {note: A0}}\n"
    assert load_config(text, "jam.yaml").cue_map() == {
        ("program", 0): "tap",
        ("program", 127): "stop",
        ("note", 21): "start",
    }


def test_every_cue_of_the_core_can_be_set() -> None:
    """No cue of the core is out of reach of the configuration."""
    lines = "".join(f"  {cue}: {{note: {20 + i}}}\n" for i, cue in enumerate(CUES))
    assert set(load_config(f"cues:\n{lines}", "jam.yaml").cue_map().values()) == set(CUES)


def test_the_split_may_be_named_as_a_note() -> None:
    """C4 is middle C, number 60 (common practice)."""
    text = "split: {kind: reversed, at: C4}\n"
    assert load_config(text, "jam.yaml").keyboard_split() == Split("reversed", 60)


# MIDI numbers of notes, C4 = 60: MIDI 1.0 note numbers with the octave names of music21.
@pytest.mark.parametrize(
    ("text", "pitch"),
    [("C4", 60), ("A4", 69), ("Bb3", 58), ("F#5", 78), ("c-1", 0), ("G9", 127), ("B#3", 60)],
)
def test_note_names(text: str, pitch: int) -> None:
    """A note name gives its MIDI number, and so does the number itself."""
    assert pitch_of(text) == pitch
    assert pitch_of(str(pitch)) == pitch


@pytest.mark.parametrize("text", ["H4", "C", "128", "-1", "C10", "Cb-1", "", "60.5", "٣"])
def test_what_is_no_note_is_refused(text: str) -> None:
    """The word for the user shows what would do."""
    with pytest.raises(ValueError, match="write C4"):
        pitch_of(text)


BAD = [
    ("prots: {}\n", 1, "prots", "`ports`"),
    ("ports:\n  player: 3\n", 2, "ports.player", "text"),
    ("latency:\n  sound_ms: -1\n", 2, "latency.sound_ms", "0"),
    ("levels:\n  bass: 2\n", 2, "levels.bass", "1"),
    ("cues:\n  tak it: {note: 1}\n", 2, "cues.tak it", "`take it`"),
    ("cues:\n  tap: {note: 128}\n", 2, "cues.tap.note", "127"),
    ("cues:\n  tap: {}\n", 2, "cues.tap", "and one of them"),
    ("cues:\n  tap: {note: 1, control: 2}\n", 2, "cues.tap", "and one of them"),
    ("cues:\n  tap: {control: 64}\n", 2, "cues.tap", "damper"),
    ("cues:\n  tap: {note: 1}\n  stop: {note: 1}\n", 3, "cues.stop", "own"),
    ("cues:\n  tap: {program: 0}\n", 2, "cues.tap.program", "1"),
    ("parts:\n  bass: {channel: 17}\n", 2, "parts.bass.channel", "16"),
    ("parts:\n  drums: {sound: [1]}\n", 2, "parts.drums.sound", "[3, 4]"),
    ("parts:\n  bass: {program: 0}\n", 2, "parts.bass.program", "1 to 128, keep or auto"),
    ("parts: 3\n", 1, "parts", "keys with their values"),
    ("parts:\n  horn: {port: X}\n", 2, "parts.horn", "companion"),
    ("level_controls: {bass: 64}\n", 1, "level_controls", "damper"),
    ("level_controls: {bass: 120}\n", 1, "level_controls.bass", "119"),
    ("turns: 3\n", 1, "turns", "'4'"),
    ("tempo: 10\n", 1, "tempo", "30"),
    ("setup: hron\nsetups:\n  horn: {}\n", 1, "setup", "`horn`"),
    ("setups:\n  mine:\n    turn: 4\n", 3, "setups.mine.turn", "`turns`"),
    ("setups:\n  mine:\n    setups: {}\n", 3, "setups.mine.setups", ""),
    ("setups:\n  mine:\n    levels: {bass: 3}\n", 3, "setups.mine.levels.bass", "1"),
    ("setups:\n  mine: 3\n", 2, "setups.mine", ""),
    ("setups:\n  mine:\n    cues:\n      tap: {control: 66}\n", 4, "setups.mine.cues.tap", "own"),
    ("thru: {to: midi, channel: 2}\n", 1, "thru.channel", "Channel 1 is free"),
    ("split: {at: H2}\n", 1, "split.at", "C4"),
    ("split: {kind: middle}\n", 1, "split.kind", "'fixed'"),
]


@pytest.mark.parametrize(("text", "line", "field", "mend"), BAD)
def test_a_bad_configuration_is_one_error(text: str, line: int, field: str, mend: str) -> None:
    """It names the file, the line, the field and what mends it."""
    with pytest.raises(InputError) as caught:
        load_config(text, "jam.yaml")
    error = caught.value
    assert (error.source, error.line, error.field) == ("jam.yaml", line, field)
    assert mend in error.mend
