"""Files of beats and changes: read, written, and refused with their line."""

import pytest

from jam.core.setup import GivenBeat
from jam.errors import InputError
from jam.session.time_files import beats_text, changes_text, read_beats, read_changes


def test_beats_are_read_with_blanks_and_remarks_between() -> None:
    """A line a beat; empty lines, remarks and the kind of line end do not matter."""
    text = "# counted by ear\r\n0.5 4\r\n\r\n1.0 1\r\n1.5 2"
    assert read_beats(text, "b") == (GivenBeat(0.5, 4), GivenBeat(1.0, 1), GivenBeat(1.5, 2))


def test_what_is_written_is_read_back_equal() -> None:
    """Beats and changes go through their text unchanged."""
    beats = read_beats("0.1234567 1\n1.7 2\n", "b")
    assert read_beats(beats_text(beats), "copy") == beats
    changes = read_changes("0 F#m7b5\n1.25 N.C.\n2.000001 G7(b9,b13)\n3 Ab/C\n", "c")
    assert read_changes(changes_text(changes), "copy") == changes


def test_changes_may_be_harte_labels() -> None:
    """Labels as data sets have them mean the chord that musicians write.

    Syntax: Harte et al. 2005 (ISMIR).
    """
    labels = read_changes("0 D:min7\n1 G:7\n2 F#:hdim7\n3 N\n4 D dorian\n", "c")
    assert [change.chord.symbol for change in labels[:4]] == ["Dm7", "G7", "F#m7b5", "N.C."]


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ("0 1\n1 2\n0.5 3\n", 3, "seconds"),
        ("0 1\n0.05 2\n", 2, "seconds"),
        ("0 1\nnan 2\n", 2, "seconds"),
        ("-1 1\n0 2\n", 1, "seconds"),
        ("0 1\n1 two\n", 2, "beat_in_bar"),
        ("0 1\n1 0\n", 2, "beat_in_bar"),
        ("0 1\n1\n", 2, ""),
        ("0 1\n", None, ""),
        ("", None, ""),
    ],
)
def test_bad_beats_are_named(text: str, line: int | None, field: str) -> None:
    """Beats that go back, 900 bpm, no number: one error with line and field."""
    with pytest.raises(InputError) as caught:
        read_beats(text, "beats.txt")
    assert (caught.value.source, caught.value.line, caught.value.field) == (
        "beats.txt",
        line,
        field,
    )


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ("0 Dm7\n0 G7\n", 2, "seconds"),
        ("2 Dm7\n1 G7\n", 2, "seconds"),
        ("0 Hm7\n", 1, "symbol"),
        ("0 Dm7 G7\n", 1, "symbol"),
        ("0 D:min7 G:7\n", 1, "symbol"),
        ("0 D:wrong\n", 1, "symbol"),
        ("# nothing\n", None, ""),
    ],
)
def test_bad_changes_are_named(text: str, line: int | None, field: str) -> None:
    """Changes that go back and unknown symbols: one error with line and field."""
    with pytest.raises(InputError) as caught:
        read_changes(text, "changes.txt")
    assert (caught.value.line, caught.value.field) == (line, field)
