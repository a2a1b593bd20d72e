"""What was heard, from a log's records: notes of everybody, beats that rise, chords that hold."""

from made_session import beats, chords

from jam import log
from jam.session.heard import heard_notes, last_chords, tempo_points


def sent(t: float, status: int, pitch: int, part: str = "companion") -> log.Record:
    value = 90 if status == 0x90 else 0
    return log.sent(t, t, "file", part, 1, (status, pitch, value))


def taken(t: float, port: str, *data: int) -> log.Record:
    return log.midi_in(t, t, port, data)


def brief(records: list[log.Record]) -> list[tuple[str, float, float, int, int]]:
    return [(n.part, n.t, n.end, n.channel, n.pitch) for n in heard_notes(records)]


def test_everybody_is_heard_once() -> None:
    """Player, band, its drums (channel 10) and each part of the companion's side; velocity 0 ends.

    Channel 10 is percussion: General MIDI 1.
    """
    records = [
        taken(0.0, "player", 0x95, 60, 70),
        taken(0.0, "band", 0x91, 40, 70),
        taken(0.0, "band", 0x99, 51, 70),
        taken(0.0, "cue", 0x90, 21, 70),
        taken(0.5, "player", 0x95, 60, 0),
        taken(0.6, "band", 0x81, 40, 0),
        taken(0.7, "band", 0x89, 51, 0),
        sent(1.0, 0x90, 64),
        sent(1.0, 0x90, 36, "bass"),
        sent(1.5, 0x80, 64),
        sent(1.75, 0x80, 36, "bass"),
    ]
    assert brief(records) == [
        ("player", 0.0, 0.5, 5, 60),
        ("band", 0.0, 0.6, 1, 40),
        ("drums", 0.0, 0.7, 9, 51),
        ("companion", 1.0, 1.5, 0, 64),
        ("bass", 1.0, 1.75, 0, 36),
    ]


def test_a_key_struck_twice_and_a_key_never_released() -> None:
    """The second strike ends the first note; what is held at the end ends with the records."""
    records = [
        taken(0.0, "player", 0x90, 60, 70),
        taken(0.5, "player", 0x90, 60, 80),
        taken(1.0, "player", 0x90, 62, 80),
    ]
    assert brief(records) == [
        ("player", 0.0, 0.5, 0, 60),
        ("player", 0.5, 1.0, 0, 60),
        ("player", 1.0, 1.01, 0, 62),
    ]


def test_other_messages_are_no_notes() -> None:
    """Controllers, pedals, clock ticks and broken messages are passed over."""
    records = [
        taken(0.0, "player", 0xB0, 64, 127),
        taken(0.0, "clock", 0xF8),
        taken(0.0, "player", 0x90, 60),
        taken(0.1, "player", 0x80, 61, 0),
    ]
    assert heard_notes(records) == []


def test_tempo_points_rise() -> None:
    """A jump back does not bend time back: only what goes on from the highest beat is kept."""
    back = [{**record, "t": record["t"] + 10.0} for record in beats(6)]
    assert tempo_points([*beats(4), *back]) == [
        (0.0, 0.0),
        (1.0, 0.5),
        (2.0, 1.0),
        (3.0, 1.5),
        (4.0, 12.0),
        (5.0, 12.5),
    ]


def test_the_last_word_on_a_chord_counts() -> None:
    """Chords are in order of their beats, renamed ones once, withdrawn ones not at all."""
    records = chords([(4.0, "G7"), (0.0, "Dm7"), (4.0, "Db7"), (8.0, "C6"), (8.0, None)])
    found = last_chords(records)
    assert [(beat, record["symbol"]) for beat, record in found.items()] == [
        (0.0, "Dm7"),
        (4.0, "Db7"),
    ]
