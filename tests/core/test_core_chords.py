"""Replies over what is played: chords named by ear, and the tail that is planned anew."""

from __future__ import annotations

from itertools import pairwise

import pytest
from sessions import Run, chord, cue, line, play, setup, tune

from jam.core.anew import kept_of
from jam.core.form import Form
from jam.core.moment import Moment
from jam.core.setup import TimedChange, Turns
from jam.core.sounding import Harmony
from jam.events import Input, MidiIn, PlannedNote, Play
from jam.harmony.changes import Change, Changes
from jam.harmony.symbols import parse_chord
from jam.listening.who import Split
from jam.transport.timeline import Timeline

VOICED = {
    "Dm7": (38, 53, 57, 60, 64),
    "G7": (43, 53, 57, 59, 64),
    "Cmaj7": (36, 52, 55, 59, 62),
    "Abmaj7": (44, 55, 60, 63, 67),
    "Eb7": (39, 55, 61, 65, 70),
}


def band(*changes: tuple[float, float, str]) -> list[Input]:
    """Return chords of the band, from beat to beat, struck every two beats."""
    messages: list[Input] = []
    for start, end, symbol in changes:
        beat = start
        while beat < end:
            messages += chord(beat, min(1.9, end - beat - 0.1), VOICED[symbol], port="band")
            beat += 2.0
    return messages


def by_ear(inputs: list[Input], seed: int = 1, until: float = 17.0) -> Run:
    """Return a session without a chart."""
    return play(setup(chart=None, seed=seed), inputs, until=until)


USUAL = ((0, 8, "Dm7"), (8, 16, "G7"))


def test_chords_are_named_as_they_are_played() -> None:
    """Chords are told with source ``heard``, in order, soon after they were struck."""
    run = by_ear([*band(*USUAL, (16, 32, "Cmaj7"))])
    told = run.of("chord")
    roots = [record["symbol"][0] for record in told]
    assert [r for i, r in enumerate(roots) if i == 0 or roots[i - 1] != r] == ["D", "G", "C"]
    assert all(record["source"] == "heard" for record in told)
    first_c = next(r for r in told if r["symbol"].startswith("C"))
    assert 16.0 <= first_c["beat"] <= 16.5


def test_a_chord_is_never_named_for_a_beat_before_the_last() -> None:
    """The beats of the chords heard rise, and none lies a beat before the moment of naming."""
    told = by_ear([*band(*USUAL, (16, 24, "Abmaj7"), (24, 32, "Eb7"))]).of("chord")
    beats = [record["beat"] for record in told]
    assert beats == sorted(set(beats))
    assert all(record["beat"] >= 2.0 * record["at"] - 0.01 for record in told)


@pytest.mark.parametrize("seed", range(6))
def test_the_tail_is_planned_anew(seed: int) -> None:
    """Another chord than the one planned for brings a new tail: its first note comes within a
    pulse, strong on the chord that has arrived, and nothing that does not fit sounds across."""
    run = by_ear([*band(*USUAL, (16, 20.5, "G7"), (20.5, 32, "Abmaj7")), *line(9, 14.5)], seed)
    named = [r for r in run.of("chord") if r["symbol"].startswith("Ab")]
    assert named
    arrived = named[0]
    symbol = next(r["symbol"] for r in reversed(run.of("chord")))
    sounding = parse_chord(symbol)
    replans = [r for r in run.of("reply") if "replans" in r and r["at"] == arrived["at"]]
    assert replans
    across = [
        n
        for n in run.spoken()
        if n["beat"] < arrived["beat"] - 1e-6 < n["beat"] + n["beats"] - 0.05
    ]
    assert all(parse_chord(arrived["symbol"]).is_strong(n["pitch"]) for n in across)
    if not across:
        after = [n for n in run.spoken() if n["beat"] >= arrived["beat"] - 1e-6]
        assert after[0]["beat"] <= arrived["beat"] + 1.0
        assert parse_chord(arrived["symbol"]).is_strong(after[0]["pitch"])
    assert sounding.is_strong(run.spoken()[-1]["pitch"])


@pytest.mark.parametrize("seed", range(6))
def test_a_new_tail_is_sent_as_it_is_told(seed: int) -> None:
    """What went out is what the log leaves standing: no old note sounds, no new one is missing or
    late."""
    run = by_ear([*band(*USUAL, (16, 20.5, "G7"), (20.5, 32, "Abmaj7")), *line(9, 14.5)], seed)
    assert {m.note for m in run.sent if m.part == "companion"} == {n["id"] for n in run.spoken()}
    assert run.refused == 0
    handed = [(now, c) for now, c in run.commands if isinstance(c, Play)]
    assert all(now <= play.t + 1e-9 for now, play in handed)
    sounded = run.sounded()
    assert all(end <= begin + 0.001 for (_, end, _), (begin, _, _) in pairwise(sounded))


@pytest.mark.parametrize("beat", [18.25, 19.25, 20.25, 21.25, 22.25, 23.25])
@pytest.mark.parametrize("seed", range(3))
def test_approach_notes_pending_are_resolved(seed: int, beat: float) -> None:
    """A note that waits for its step when the chord changes gets it within the next three notes."""
    run = by_ear([*band(*USUAL, (16, beat, "G7"), (beat, 32, "Eb7")), *line(9, 14.5)], seed)
    notes = run.spoken()
    for index, n in enumerate(notes[:-1]):
        if n["role"] == "approach":
            near = [abs(later["pitch"] - n["pitch"]) for later in notes[index + 1 : index + 4]]
            assert any(1 <= step <= 2 for step in near), (n, near)


def test_a_reply_that_waits_is_planned_for_the_chord_that_came() -> None:
    """A chord that changes before the turn makes the whole reply new, still in its window."""
    run = by_ear([*band((0, 15, "Dm7"), (15, 32, "Abmaj7")), *line(8, 13)])
    notes = run.spoken()
    assert notes[0]["beat"] >= 15.0
    assert notes[0]["chord"].startswith("Ab")


def test_the_ear_goes_on_after_a_jump() -> None:
    """After a start from the top the chord that held is taken to go on, and new ones are named at
    their new beats."""
    inputs: list[Input] = [MidiIn(0.4, "clock", (0xFA,)), MidiIn(8.4, "clock", (0xFA,))]
    inputs += [MidiIn(round(0.5 + n / 48.0, 6), "clock", (0xF8,)) for n in range(800)]
    shifted = [
        MidiIn(m.t + 0.5, m.port, m.data)
        for m in band((0, 8, "Dm7"), (8, 15.5, "G7"), (16, 24, "Cmaj7"), (24, 32, "Abmaj7"))
        if isinstance(m, MidiIn)
    ]
    run = play(setup(chart=None, clock="midi"), [*inputs, *shifted], until=16.5)
    again = [record for record in run.of("chord") if record["at"] >= 8.4]
    assert again[0]["beat"] == 0.0
    assert again[0]["symbol"].startswith("G")
    assert {record["symbol"][:2] for record in again} >= {"Cm", "Ab"}
    assert all(record["beat"] < 17.0 for record in again)


def test_a_late_name_never_goes_before_an_earlier_one() -> None:
    """A name given for a beat that has a chord already, or lies before it, comes just after it."""
    made = setup(chart=None)
    harmony = Harmony(made, Form(made))
    beats = [
        harmony.hear(b, parse_chord(s), 0.9).beat for b, s in ((4, "Dm7"), (4, "G7"), (3, "C6"))
    ]
    assert beats == sorted(set(beats))
    assert [c.beat for c in harmony.changes(9.0, None)] == beats


def test_without_a_chord_the_companion_waits_for_one() -> None:
    """It says nothing over silence, and comes in when a chord is heard within its turn."""
    nothing = by_ear(line(8, 14.5), until=15.9)
    late = by_ear([*line(8, 14.5), *band((18, 32, "Dm7"))])
    assert not nothing.replies
    assert late.spoken()
    assert late.spoken()[0]["beat"] >= 18.0


def test_the_players_other_hand_is_heard_as_harmony() -> None:
    """With the keyboard split the low hand names the chord and the high hand is the line."""
    made = setup(chart=None, split=Split("fixed", 61))
    low = [m for b in range(0, 32, 2) for m in chord(b, 1.8, (38, 53, 57, 60))]
    run = play(made, [*low, *line(8, 14.5)], until=17.0)
    assert run.of("chord")[0]["symbol"].startswith(("D", "F"))
    assert min(n["pitch"] for n in run.of("call")[0]["notes"]) >= 61
    heard = {r["channel_split"] for r in run.of("in")}
    assert heard == {"line", "comping"}


def test_the_band_on_the_players_port_is_told_by_its_channel() -> None:
    """With the line on channel 1 of one port, channel 2 names the chords and drums say nothing."""

    def on(channel: int, messages: list[MidiIn]) -> list[MidiIn]:
        return [MidiIn(m.t, m.port, (m.data[0] | channel, *m.data[1:])) for m in messages]

    made = setup(chart=None, split=Split(channels=((0, "line"),)))
    comping = [m for b in range(0, 32, 4) for m in chord(b, 3.8, (38, 53, 57, 60))]
    drums = [m for b in range(32) for m in chord(b, 0.5, (54, 58, 61))]
    run = play(made, [*on(1, comping), *on(9, drums), *line(8, 14.5)], until=17.0)
    assert {r["symbol"] for r in run.of("chord")} == {"Dm7"}
    assert {n["pitch"] for c in run.of("call") for n in c["notes"]} <= {62, 65, 69, 72, 71, 67, 64}
    assert run.spoken()


# --- changes given in seconds -------------------------------------------------------------------

TIMED = tuple(
    TimedChange(sec, parse_chord(symbol))
    for sec, symbol in ((0.02, "Dm7"), (1.98, "G7"), (4.03, "Cmaj7"), (4.1, "C6"), (6.0, "Dm7"))
)


def test_changes_in_seconds_are_placed_on_half_beats() -> None:
    """Each change lies on the nearest half beat; of two on one place the later holds."""
    run = play(setup(chart=None, timed_changes=TIMED), until=8.0)
    told = [(record["beat"], record["symbol"]) for record in run.of("chord")]
    assert told == [(0.0, "Dm7"), (4.0, "G7"), (8.0, "C6"), (12.0, "Dm7")]


def test_a_change_that_was_told_stays_however_the_tempo_moves() -> None:
    """With taps that slow down no chord is named twice, and their order is kept."""
    taps, t = [], 0.0
    for n in range(30):
        taps.append(cue(round(t, 6), "tap"))
        t += 0.5 + 0.004 * n
    made = setup(chart=None, timed_changes=TIMED, clock="taps", turns=Turns("solo"))
    run = play(made, taps, until=14.0)
    latest = {record["beat"]: record["symbol"] for record in run.of("chord")}
    standing = [symbol for beat, symbol in sorted(latest.items()) if symbol is not None]
    assert standing == ["Dm7", "G7", "C6", "Dm7"] or standing == ["G7", "C6", "Dm7"]


def test_the_chart_goes_before_the_ear() -> None:
    """With a chart the band's chords name nothing."""
    run = play(setup(chart=tune()), band((0, 16, "Eb7")), until=8.0)
    assert {record["source"] for record in run.of("chord")} == {"chart"}


def test_a_note_that_has_just_begun_stays_in_the_reply() -> None:
    """Where the chord changes in the very moment of a note that does not fit, it is cut to a hair:
    what has sounded is never said not to have been played."""
    begun = PlannedNote(9.5, 0.25, 70, 80, 9.49, 0.2, "Em7", "b5", "approach", "run", "")
    changes = Changes([Change(9.5, parse_chord("D"))])
    moment = Moment(4.75, 9.5, Timeline(120.0), 100)
    prefix, over_beat = kept_of([(1, begun)], [], changes, moment)
    assert 9.5 < over_beat < 9.6
    assert prefix.pitches == (70,)
