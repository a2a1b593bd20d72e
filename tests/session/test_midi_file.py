"""Reading Standard MIDI Files, against mido and pretty_midi, and refusing what cannot be played."""

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jam.errors import InputError
from jam.session.midi_file import read_midi, select
from jam.transport.timeline import TempoMap


def note(pitch: int, on: int, length: int, channel: int = 0) -> list[mido.Message]:
    return [
        mido.Message("note_on", channel=channel, note=pitch, velocity=80, time=on),
        mido.Message("note_on", channel=channel, note=pitch, velocity=0, time=length),
    ]


def tempo(bpm: float, after: int = 0) -> mido.MetaMessage:
    return mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=after)


def named(name: str, *events: object) -> mido.MidiTrack:
    return mido.MidiTrack([mido.MetaMessage("track_name", name=name), *events])


def save(path: Path, *tracks: mido.MidiTrack, kind: int = 1, ticks: int = 480) -> Path:
    file = mido.MidiFile(type=kind, ticks_per_beat=ticks)
    file.tracks.extend(tracks)
    file.save(path)
    return path


def two_parts(folder: Path) -> Path:
    """Return a file with tempo and metre changes, a melody and a piano."""
    conductor = named("map", tempo(100), tempo(140, 480 * 5), tempo(80, 480 * 7))
    conductor.insert(1, mido.MetaMessage("time_signature", numerator=3, denominator=4))
    melody = named("Melody", *(m for k in range(40) for m in note(60 + k % 12, 100, 200)))
    piano = named("Piano", *(m for k in range(60) for m in note(40 + k, 37, 160, 9)))
    return save(folder / "two.mid", conductor, melody, piano)


def test_seconds_are_those_of_mido_and_pretty_midi(tmp_path: Path) -> None:
    """Note-ons lie where the reference libraries put them, tempo changes included."""
    path = two_parts(tmp_path)
    data = read_midi(path)
    now, expected = 0.0, []
    for message in mido.MidiFile(path):
        now += message.time
        if not message.is_meta:
            expected.append((now, tuple(message.bytes())))
    assert sorted(m.data for m in data.messages) == sorted(d for _, d in expected)
    assert [m.t_sec for m in data.messages] == pytest.approx([t for t, _ in expected], abs=1e-6)
    reference = pretty_midi.PrettyMIDI(str(path))
    starts = sorted(n.start for i in reference.instruments for n in i.notes)
    ons = [m.t_sec for m in data.messages if m.data[0] & 0xF0 == 0x90 and m.data[2]]
    assert ons == pytest.approx(starts, abs=1e-6)
    assert data.length_sec == pytest.approx(mido.MidiFile(path).length, abs=1e-6)


def test_the_tempo_map_is_that_of_the_file(tmp_path: Path) -> None:
    """The points give pretty_midi's beats back, and the last tempo goes on."""
    path = two_parts(tmp_path)
    data = read_midi(path)
    tempo_map = TempoMap.through(data.tempo_points)
    reference = pretty_midi.PrettyMIDI(str(path))
    for beat in range(16):
        assert tempo_map.sec(beat) == pytest.approx(reference.tick_to_time(480 * beat), abs=1e-6)
    assert tempo_map.bpm_at(100) == pytest.approx(80, rel=1e-4)
    assert [(m.beat, str(m.metre)) for m in data.metres] == [(0.0, "3/4")]


def test_the_defaults_of_the_standard(tmp_path: Path) -> None:
    """Without tempo and metre a file is at 120 bpm in 4/4 (SMF 1.1, set tempo)."""
    data = read_midi(save(tmp_path / "plain.mid", mido.MidiTrack(note(60, 480, 480)), kind=0))
    assert data.tempo_points == ((0.0, 0.0), (1.0, 0.5))
    assert [str(m.metre) for m in data.metres] == ["4/4"]
    assert [m.t_sec for m in data.messages] == [0.5, 1.0]
    assert [m.data for m in data.messages] == [(0x90, 60, 80), (0x90, 60, 0)]
    assert data.ticks_per_beat == 480


def test_all_channels_and_kinds_of_message_are_kept(tmp_path: Path) -> None:
    """Every channel, controllers, programs and bends come through; system messages do not."""
    events = [m for channel in range(16) for m in note(60, 10, 10, channel)]
    events += [
        mido.Message("control_change", control=64, value=127),
        mido.Message("program_change", program=5),
        mido.Message("pitchwheel", pitch=-3),
        mido.Message("sysex", data=(1, 2, 3)),
    ]
    data = read_midi(save(tmp_path / "all.mid", mido.MidiTrack(events)))
    assert {m.data[0] for m in data.messages if m.data[0] & 0xF0 == 0x90} == set(range(0x90, 0xA0))
    assert [m.data[0] for m in data.messages[-3:]] == [0xB0, 0xC0, 0xE0]


def test_a_track_is_chosen_by_name_or_number(tmp_path: Path) -> None:
    """Letter case does not matter; a number is taken where no track is called so."""
    data = read_midi(two_parts(tmp_path))
    melody = select(data, track="melody")
    assert {m.track_name for m in melody.messages} == {"Melody"}
    assert select(data, track="3").messages == select(data, track="Piano").messages
    assert select(data, channel=9).messages == select(data, track="Piano").messages
    assert melody.tempo_points == data.tempo_points


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"track": "Melodie"}, "Did you mean 'Melody'"),
        ({"track": "7"}, "Tracks with notes: 2 'Melody', 3 'Piano'"),
        ({"track": "map"}, "no notes in track 'map'"),
        ({"channel": 5}, "no notes in channel 6"),
        ({"track": "Melody", "channel": 9}, "no notes in track 'Melody' and channel 10"),
    ],
)
def test_a_wrong_choice_says_what_there_is(
    how: dict[str, object], words: str, tmp_path: Path
) -> None:
    """A track or channel without notes is refused with the tracks that have some."""
    data = read_midi(two_parts(tmp_path))
    with pytest.raises(InputError) as caught:
        select(data, **how)  # type: ignore[arg-type]
    assert words in str(caught.value)
    assert str(caught.value).startswith(str(tmp_path / "two.mid"))


def patched(change: Callable[[bytes], bytes]) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        path = two_parts(folder)
        path.write_bytes(change(path.read_bytes()))
        return path

    return make


def with_tempo(microseconds: int) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        path = save(folder / "t.mid", named("m", tempo(99.9), *note(60, 0, 480)))
        raw = path.read_bytes()
        at = raw.index(b"\xff\x51\x03") + 3
        path.write_bytes(raw[:at] + microseconds.to_bytes(3, "big") + raw[at + 3 :])
        return path

    return make


def long_file(ticks: int, hold: int, end: int = 0) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        track = named("m", *note(60, 0, hold), mido.MetaMessage("end_of_track", time=end))
        return save(folder / "long.mid", track, ticks=ticks)

    return make


REFUSED = [
    ("nothing in it", patched(lambda raw: b""), "empty"),
    ("something else", patched(lambda raw: b"RIFF" + raw), "does not begin like a MIDI file"),
    ("header cut", patched(lambda raw: raw[:10]), "cut off after 10 bytes"),
    ("track cut", patched(lambda raw: raw[:-20]), "track 3 is cut off"),
    ("tracks missing", patched(lambda raw: raw[: raw.rindex(b"MTrk")]), "holds 2 of its 3 tracks"),
    ("type 2", patched(lambda raw: raw[:9] + b"\x02" + raw[10:]), "type 2"),
    ("film frames", patched(lambda raw: raw[:12] + b"\xe7\x28" + raw[14:]), "25 a second"),
    ("no ticks", patched(lambda raw: raw[:12] + b"\0\0" + raw[14:]), "0 ticks a quarter"),
    ("nonsense", patched(lambda raw: raw[:-30] + b"\xff" * 30), "track 3 is broken"),
    ("data byte", patched(lambda raw: raw.replace(b"\x90\x3c", b"\x90\xfc")), "is broken"),
    ("tempo 0", with_tempo(0), "inf bpm (0 microseconds a beat)"),
    ("tempo 1", with_tempo(1), "6e+07 bpm"),
    ("slowest tempo", with_tempo(0xFFFFFF), "3.576 bpm"),
    ("ten hours", long_file(480, 2 * 480 * 36000), "10 h 00 min"),
    ("one huge step", long_file(1, 0x0FFFFFFF), "37282 h"),
    ("late end", long_file(480, 480, 2 * 480 * 36000), "10 h 00 min"),
    ("no notes", lambda p: save(p / "e.mid", named("m", tempo(100, 480))), "holds no notes"),
    ("no file", lambda p: p / "gone.mid", "there is no such file"),
    ("a folder", lambda p: p, "cannot be read"),
]


@pytest.mark.timeout(5)
@pytest.mark.parametrize(("make", "words"), [r[1:] for r in REFUSED], ids=[r[0] for r in REFUSED])
def test_what_cannot_be_played_is_refused_in_words(
    make: Callable[[Path], Path], words: str, tmp_path: Path
) -> None:
    """One error names the file, what is wrong and what mends it, at once."""
    path = make(tmp_path)
    with pytest.raises(InputError) as caught:
        read_midi(path)
    assert str(caught.value).startswith(f"{path}: ")
    assert words in caught.value.problem
    assert caught.value.mend


def test_unknown_chunks_are_passed_over(tmp_path: Path) -> None:
    """A chunk of an unknown kind between the tracks is skipped (SMF 1.1 demands it)."""
    path = two_parts(tmp_path)
    before = read_midi(path)
    raw = path.read_bytes()
    at = raw.rindex(b"MTrk")
    path.write_bytes(raw[:at] + b"XFIH\x00\x00\x00\x05hello" + raw[at:])
    assert read_midi(path).messages == before.messages


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damage_is_an_input_error_or_a_file(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Whatever bytes are changed, the reader reads or raises InputError, nothing else."""
    path = two_parts(tmp_path_factory.mktemp("damage"))
    raw = bytearray(path.read_bytes())
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(bytes(raw[: data.draw(st.integers(len(raw) // 2, len(raw)))]))
    with suppress(InputError):
        assert read_midi(path).messages


def test_ticks_rise_as_the_data_do(tmp_path: Path) -> None:
    """Messages of all tracks come in order of time."""
    secs = [m.t_sec for m in read_midi(two_parts(tmp_path)).messages]
    assert np.all(np.diff(secs) >= 0)
