"""The laws of the core: determinism, order, silence, and messages of any kind."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from sessions import OTHER_STYLE, Run, chord, cue, key, line, note, play, setup, tune, without_at

from jam.charts.model import RoadMap
from jam.events import Cut, Input, IoReport, MidiIn, Play, Revoke, Silence

BUSY: list[Input] = [
    *line(8.5, 15.0),
    *chord(20, 2, (48, 52, 55, 59)),
    *line(31.5, 34.0),
    *line(40, 46.5),
    cue(15.0, "next style"),
    cue(24.9, "lay out"),
    cue(27.3, "take it"),
]


def busy(**changes: object) -> Run:
    """Return a session in which a lot happens."""
    extra = changes.pop("extra", ())
    made = setup(chart=tune("Dm7 G7 Cmaj7 A7 Dm7 G7"), with_band=True, **changes)
    return play(made, BUSY, until=36.0, extra=extra)  # type: ignore[arg-type]


def test_extra_steps_change_nothing() -> None:
    """Steps between the dues leave every command, every record and the order of both as it was."""
    rng = np.random.default_rng(5)
    extra = [round(float(t), 6) for t in rng.uniform(0.0, 36.0, 700)]
    plain, often = busy(), busy(extra=extra)
    assert often.records == plain.records
    assert often.commands == plain.commands
    assert len(often.shots) > len(plain.shots)


@pytest.mark.parametrize("clock", ["taps", "midi"])
def test_extra_steps_change_nothing_for_a_clock_from_outside(clock: str) -> None:
    """The same holds where the tempo is heard and moves."""
    made = setup(clock=clock, with_band=True)
    inputs: list[Input] = []
    if clock == "taps":
        inputs += [cue(0.5 + 0.5 * n + 0.01 * (n % 3), "tap") for n in range(40)]
    else:
        inputs += [MidiIn(0.4, "clock", (0xFA,))]
        inputs += [MidiIn(round(0.5 + n / 47.0, 6), "clock", (0xF8,)) for n in range(900)]
    rng = np.random.default_rng(6)
    extra = [round(float(t), 6) for t in rng.uniform(0.0, 22.0, 300)]
    plain = play(made, inputs, until=22.0)
    often = play(made, inputs, until=22.0, extra=extra)
    assert plain.replies
    assert without_at(often.records) == without_at(plain.records)
    assert often.commands == plain.commands


def test_the_seed_makes_the_notes() -> None:
    """One seed and one list of inputs make one session; another seed makes other notes."""
    one, again, other = busy(), busy(), busy(seed=2)
    assert one.records == again.records
    assert one.commands == again.commands
    assert [n["pitch"] for n in one.spoken()] != [n["pitch"] for n in other.spoken()]


def test_records_are_in_order_of_at() -> None:
    """No record was made before the one above it."""
    moments = [record["at"] for record in busy().records]
    assert moments == sorted(moments)


def test_beats_are_announced_once_and_in_time() -> None:
    """Each beat is told once, in order, at or before it falls, and falls where it was told."""
    run = busy()
    beats = run.of("beat")
    assert [record["beat"] for record in beats] == [float(n) for n in range(len(beats))]
    assert all(record["at"] <= record["t"] for record in beats)
    assert all(record["t"] == pytest.approx(record["beat"] * 0.5) for record in beats)


def test_chords_are_named_before_they_come() -> None:
    """Every chord of the chart is told once, at least half a bar ahead, but the first."""
    chords = busy().of("chord")
    assert len({record["beat"] for record in chords}) == len(chords)
    assert all(record["at"] <= record["t"] - 1.0 for record in chords[1:])


def test_every_note_that_begins_ends() -> None:
    """The port's ledger is empty at the end, nothing was refused, nothing came late."""
    run = busy()
    assert not run.port.sounding
    assert run.refused == 0
    assert all(
        now <= command.t + 1e-9 for now, command in run.commands if isinstance(command, Play)
    )


@pytest.mark.parametrize("name", ["panic", "stop", "lay out"])
@pytest.mark.parametrize("t", [9.1, 10.37, 11.0])
def test_silence_in_the_middle_of_a_reply(name: str, t: float) -> None:
    """After panic and stop nothing sounds at once, after *lay out* within an eighth and a note."""
    run = play(setup(), [*line(8, 15), cue(t, name)], until=15.0)
    assert [n for n in run.sounded() if n[0] < t]
    later = 0.0 if name != "lay out" else 0.5
    assert all(end <= t + later + 1e-6 for _, end, _ in run.sounded() if end > t)
    assert not [n for n in run.sounded() if t + later < n[0] < 15.0]


@pytest.mark.parametrize("name", ["panic", "stop", "lay out"])
def test_the_log_tells_what_was_silenced(name: str) -> None:
    """The notes that the log leaves standing are those that went out, and end where they did."""
    run = play(setup(), [*line(8, 15), cue(10.37, name)], until=15.0)
    said, heard = run.spoken(), run.sounded()
    assert [n["pitch"] for n in said] == [pitch for _, _, pitch in heard]
    end = 0.5 * (said[-1]["beat"] + said[-1]["beats"])
    assert heard[-1][1] == pytest.approx(end, abs=0.12)


def test_panic_is_not_answered_by_another_reply() -> None:
    """After a panic the companion is silent until its next turn, and then plays on."""
    run = play(setup(), [*line(8, 15), cue(9.1, "panic"), *line(40, 46)], until=28.0)
    begun = [n[0] for n in run.sounded() if n[0] > 9.1]
    assert begun
    assert min(begun) > 23.0


def test_a_tune_ends_with_its_last_note() -> None:
    """The session is over when the last turn is, and the tail of the last reply has sounded."""
    road_map = RoadMap(0, "none", 2, "none")
    two = play(setup(road_map=road_map, with_band=True), line(8, 15), until=40.0)
    assert two.ended
    assert 16.0 <= two.now <= 18.0
    assert not two.port.sounding
    assert two.shots[-1].who == "none"
    assert {record["beat"] for record in two.of("turn")} == {0.0, 16.0}


# --- what comes in over MIDI: slips often seen in programs that listen to keyboards -----------


def heard(*messages: Input) -> list[int]:
    """Return the pitches of the call that the companion takes from these messages."""
    run = play(setup(), messages, until=9.0)
    return [n["pitch"] for call in run.of("call") for n in call["notes"]]


def test_velocity_0_is_a_note_off() -> None:
    """A note-on of velocity 0 ends the note (MIDI 1.0 Detailed Specification, note-on)."""
    by_on = play(setup(), note(10, 1, 60) + note(11, 1, 64) + note(12, 1, 67), until=8.0)
    by_off = play(
        setup(),
        [
            m if m.data[2] else MidiIn(m.t, m.port, (0x80, m.data[1], 64))
            for m in note(10, 1, 60) + note(11, 1, 64) + note(12, 1, 67)
        ],
        until=8.0,
    )
    assert by_on.of("call")
    assert without_at(by_on.of("call")) == without_at(by_off.of("call"))


@pytest.mark.parametrize("channel", [0, 7, 15])
def test_any_channel_is_heard(channel: int) -> None:
    """The player's line is heard on any of the 16 channels."""
    messages = [MidiIn(m.t, m.port, (m.data[0] | channel, *m.data[1:])) for m in line(10.0, 13.0)]
    assert heard(*messages) == [62, 65, 69, 72, 71, 69]


def test_a_note_struck_twice_is_two_notes() -> None:
    """The same key struck again before its release is heard twice, and is up after one release."""
    messages = [key(5.0, 60), key(5.5, 60), key(5.9, 60, 0), *note(13, 0.5, 64)]
    assert heard(*messages) == [60, 60, 64]


@pytest.mark.parametrize(
    "data",
    [(), (0xF8,), (0xFE,), (0x90,), (0x90, 60), (0x90, 200, 90), (0x90, 60, 300), (0xF0, 1, 0xF7),
     (0xB0, 64, 127), (0xE0, 0, 64), (0xD0, 5), (0x3C, 0x40), (0xFF,)],
)  # fmt: skip
def test_bytes_of_no_use_do_no_harm(data: tuple[int, ...]) -> None:
    """Clock bytes, broken messages, pedals and bends from the player change no note and no call."""
    plain = play(setup(), line(8, 15), until=14.0)
    junk = [MidiIn(t, "player", data) for t in (0.0, 4.21, 7.49, 9.0)]
    run = play(setup(), [*line(8, 15), *junk], until=14.0)
    assert run.commands == plain.commands
    assert len(run.of("in")) == len(plain.of("in")) + 4


def test_a_pad_is_no_player() -> None:
    """Notes of the cue port are never heard as the player's, whether they mean a cue or not."""
    assert heard(*[MidiIn(m.t, "cue", m.data) for m in line(10.0, 13.0)]) == []


def test_a_lost_port_takes_its_keys_along() -> None:
    """A key that was down when its port was lost does not hold the companion up for ever."""
    lost = IoReport(7.0, "port lost", {"port": "player"})
    stuck = play(setup(), [*line(8, 13), key(6.6, 60)], until=15.0)
    freed = play(setup(), [*line(8, 13), key(6.6, 60), lost], until=15.0)
    assert not stuck.replies
    assert freed.replies


def test_an_unknown_wish_is_told_and_harms_nothing() -> None:
    """What is no cue is logged as a fault and changes no note."""
    plain = play(setup(), line(8, 15), until=14.0)
    run = play(setup(), [*line(8, 15), cue(3.0, "sing")], until=14.0)
    assert run.commands == plain.commands
    assert [record["what"] for record in run.of("fault")] == ["no such cue: sing"]
    assert not run.of("cue")


def test_the_next_style_comes_round() -> None:
    """The *next style* cue walks through the styles and back to the first."""
    run = play(setup(), [cue(t, "next style") for t in (1.0, 2.0)], until=3.0)
    named = [shot.style for shot in run.shots]
    assert [a for a, b in pairwise([*named, ""]) if a != b] == ["made", OTHER_STYLE.name, "made"]


def test_commands_speak_of_notes_that_were_handed_over() -> None:
    """Each revocation and each cut names a note that was handed over before."""
    known: set[int] = set()
    for _, command in busy().commands:
        match command:
            case Play(id=number):
                known.add(number)
            case Revoke(id=number) | Cut(id=number):
                assert number in known
            case Silence():
                known.clear()


def test_a_stopped_tune_does_not_end_by_itself() -> None:
    """A tune that was stopped waits for its start, however often and long the core is stepped."""
    made = setup(road_map=RoadMap(0, "none", 1, "none"))
    run = play(made, [cue(3.0, "stop")], until=20.0, extra=[float(n) for n in range(20)])
    assert not run.ended
