"""Session files read back by mido and pretty_midi."""

from collections.abc import Sequence
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jam.session.midi_file import read_midi
from jam.session.write_midi import MidiNote, write_session_midi
from jam.transport.metre import Metre
from jam.transport.timeline import TempoMap

Points = Sequence[tuple[float, float]]

STEADY: Points = [(0, 2.0), (1, 2.4531)]
EARLY: Points = [(0, -1.3), (1, -0.85)]
LATE: Points = [(-4, 0.1), (0, 2.3), (7.5, 6.1), (8, 6.5), (40, 27.0), (41, 28.9)]


def human_beats(count: int, first_sec: float) -> Points:
    """Return beats at about 150 bpm with 15 ms of scatter."""
    rng = np.random.default_rng(4)
    gaps = 0.4 + rng.normal(0, 0.015, count)
    return list(enumerate(first_sec + np.cumsum(gaps)))


def some_notes(length_sec: float, channel: int, seed: int) -> list[MidiNote]:
    rng = np.random.default_rng(seed)
    starts = np.cumsum(rng.uniform(0.02, 0.4, int(length_sec / 0.21)))
    return [
        MidiNote(float(t), float(t) + 0.015, channel, 40 + k % 50, int(rng.integers(1, 128)))
        for k, t in enumerate(starts)
    ]


def write(path: Path, points: Points, tracks: dict[str, list[MidiNote]], **more: object) -> Path:
    metre, markers = more.get("metre", Metre()), more.get("markers", [])
    write_session_midi(path, tracks, points, markers, metre)  # type: ignore[arg-type]
    return path


@pytest.mark.parametrize("points", [STEADY, EARLY, LATE, human_beats(300, 3.21)])
def test_seconds_are_kept(points: Points, tmp_path: Path) -> None:
    """Every note comes back within a millisecond from pretty_midi, wherever beat 0 lies."""
    notes = some_notes(120.0, 0, 1)
    path = write(tmp_path / "s.mid", points, {"player": notes, "band": some_notes(60.0, 3, 2)})
    read = pretty_midi.PrettyMIDI(str(path))
    assert [i.name for i in read.instruments] == ["player", "band"]
    back = sorted(read.instruments[0].notes, key=lambda note: note.start)
    assert len(back) == len(notes)
    for note, other in zip(notes, back, strict=True):
        assert (note.pitch, note.velocity) == (other.pitch, other.velocity)
        assert other.start == pytest.approx(note.t, abs=0.001)
        assert other.end == pytest.approx(note.end, abs=0.001)


@pytest.mark.parametrize("points", [STEADY, EARLY, LATE, human_beats(300, 3.21)])
def test_beats_of_the_file_are_beats_of_the_session(points: Points, tmp_path: Path) -> None:
    """pretty_midi's beats fall on the session's beats within a millisecond, from the second on."""
    time = TempoMap.through(points)
    path = write(tmp_path / "s.mid", points, {"player": some_notes(130.0, 0, 1)})
    resolution = 1920
    read = pretty_midi.PrettyMIDI(str(path))
    written = np.array([read.tick_to_time(k * resolution) for k in range(2, 250)])
    meant = np.array([time.sec(round(time.beat(sec))) for sec in written])
    assert np.abs(written - meant).max() < 0.001


def test_rounding_never_adds_up(tmp_path: Path) -> None:
    """After four thousand beats of 0.45310045 s each, whole microseconds still add up."""
    points = [(k, 0.45310045 * k) for k in range(4001)]
    path = write(tmp_path / "s.mid", points, {"player": [MidiNote(1.0, 2.0, 0, 60, 80)]})
    tempos = [m.tempo for m in mido.MidiFile(path).tracks[0] if m.type == "set_tempo"]
    assert set(tempos) == {453100, 453101}
    read = pretty_midi.PrettyMIDI(str(path))
    assert read.tick_to_time(4000 * 1920) == pytest.approx(4000 * 0.45310045, abs=1e-4)


def test_beat_zero_is_on_a_bar_line(tmp_path: Path) -> None:
    """A lead-in of five beats before a waltz gets a pickup bar of two quarters (mido)."""
    path = write(
        tmp_path / "s.mid",
        [(0, 2.4), (1, 2.9)],
        {"player": [MidiNote(2.4, 2.8, 0, 60, 80)]},
        metre=Metre(3, 4),
    )
    file = mido.MidiFile(path)
    now, signatures = 0, []
    for message in file.tracks[0]:
        now += message.time
        if message.type == "time_signature":
            signatures.append((now, message.numerator, message.denominator))
    assert signatures == [(0, 2, 4), (2 * 1920, 3, 4)]
    ticks = [m.time for m in file.tracks[1] if m.type == "note_on"]
    assert ticks == [5 * 1920]
    assert file.type == 1
    assert file.ticks_per_beat == 1920


def test_markers_are_ascii_and_in_place(tmp_path: Path) -> None:
    """One marker per chord on the conductor's track, signs beyond ASCII replaced (mido)."""
    markers = [(0.5, "Dm7"), (1.5, "G7(b9)"), (2.5, "CΔ7")]
    notes = [MidiNote(0.5, 3.0, 0, 60, 80)]
    path = write(tmp_path / "s.mid", [(0, 0.5), (1, 1.0)], {"player": notes}, markers=markers)
    file = mido.MidiFile(path)
    found, now = [], 0.0
    for message in file:
        now += message.time
        if message.type == "marker":
            found.append((round(now, 3), message.text))
    assert found == [(0.5, "Dm7"), (1.5, "G7(b9)"), (2.5, "C?7")]
    assert file.tracks[0].name == "conductor"


@given(
    st.lists(
        st.tuples(
            st.floats(-0.5, 6), st.floats(-0.1, 2), st.sampled_from([0, 9]), st.integers(60, 63)
        ),
        max_size=40,
    )
)
def test_every_note_ends_before_its_pitch_begins_again(
    tmp_path_factory: pytest.TempPathFactory, raw: list[tuple[float, float, int, int]]
) -> None:
    """Whatever overlaps come in, each note-on is followed by its note-off, and none is left."""
    notes = [MidiNote(t, t + length, channel, pitch, 90) for t, length, channel, pitch in raw]
    folder = tmp_path_factory.mktemp("overlaps")
    file = mido.MidiFile(write(folder / "s.mid", [(0, 0.0), (1, 0.5)], {"player": notes}))
    sounding = set()
    for message in file.tracks[1]:
        if message.type == "note_on":
            assert (message.channel, message.note) not in sounding
            sounding.add((message.channel, message.note))
        elif message.type == "note_off":
            sounding.remove((message.channel, message.note))
    assert not sounding


def test_a_pitch_struck_again_is_cut_there(tmp_path: Path) -> None:
    """The first of two overlapping notes of a pitch ends where the second begins."""
    notes = [MidiNote(1.0, 3.0, 2, 64, 70), MidiNote(2.0, 2.5, 2, 64, 99)]
    path = write(tmp_path / "s.mid", [(0, 0.0), (1, 0.5)], {"player": notes})
    back = pretty_midi.PrettyMIDI(str(path)).instruments[0].notes
    assert [(n.start, n.end, n.velocity) for n in back] == [(1.0, 2.0, 70), (2.0, 2.5, 99)]


def test_tempi_beyond_the_format_do_not_break_seconds(tmp_path: Path) -> None:
    """A pause of a minute within one beat is slower than a file can say: notes stay in place."""
    points = [(0, 0.0), (1, 0.5), (2, 60.5), (3, 61.0), (4, 61.5)]
    notes = [MidiNote(t, t + 0.2, 0, 60, 80) for t in (0.1, 30.0, 60.5, 61.0, 61.7, 70.0)]
    back = pretty_midi.PrettyMIDI(str(write(tmp_path / "s.mid", points, {"p": notes})))
    starts = [n.start for n in back.instruments[0].notes]
    assert starts == pytest.approx([n.t for n in notes], abs=0.005)


def test_what_is_written_is_read_by_our_own_reader(tmp_path: Path) -> None:
    """Names, messages and seconds come back through `read_midi`."""
    notes = some_notes(10.0, 5, 3)
    data = read_midi(write(tmp_path / "s.mid", STEADY, {"companion": notes, "band": []}))
    assert data.track_names == ("conductor", "companion", "band")
    ons = [m for m in data.messages if m.data[0] == 0x95]
    assert [m.data[1] for m in ons] == [n.pitch for n in notes]
    assert [m.t_sec for m in ons] == pytest.approx([n.t for n in notes], abs=0.001)


def test_the_same_session_gives_the_same_bytes(tmp_path: Path) -> None:
    """Writing twice gives equal files."""
    tracks = {"player": some_notes(20.0, 0, 1), "companion": some_notes(20.0, 1, 2)}
    one, two = (write(tmp_path / name, LATE, tracks) for name in ("a.mid", "b.mid"))
    assert one.read_bytes() == two.read_bytes()
