"""The brain's side of the I/O process: what it hands down, what it makes of what comes up, and
what becomes of the notes when a process dies."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from jam.events import Cut, IoReport, MidiIn, Play, Revoke, Silence
from jam.players.bends import BACK_SEC, wheel_message, wheel_value
from jam.ports.memory import Sent
from jam.ports.wire import (
    CutNote,
    Down,
    EndedEarly,
    EndSounding,
    Heard,
    News,
    PlayNote,
    Ready,
    Refused,
    RevokeNote,
    SentNote,
    SetLevel,
    SilenceAll,
    Up,
)
from jam.ports.wishes import Wishes
from jam.session.io_client import RETRY_SEC, STUCK_SEC, IoClient

ORIGIN = 1000.0


class FakeProcess:
    """An I/O process of a test: holds what it was told, says what it is given to say."""

    def __init__(self) -> None:
        self.told: list[Down] = []
        self.says: list[Up] = []
        self.gone = False
        self.left = self.killed = self.closed = False

    def send(self, records: Iterable[Down]) -> None:
        self.told += records

    def receive(self) -> list[Up]:
        says, self.says = self.says, []
        return says

    def fileno(self) -> int:
        return -1

    def quit(self, timeout_sec: float) -> None:
        self.left = True

    def kill(self) -> None:
        self.killed = True

    def close(self) -> None:
        self.closed = True


class Bench:
    """A client with fake processes and a clock that is set by hand."""

    def __init__(self) -> None:
        self.machine = ORIGIN
        self.processes: list[FakeProcess] = []
        self.client = IoClient(Wishes(), self._spawn, lambda: self.machine)
        self.client.begin(ORIGIN)

    def _spawn(self, _: Wishes) -> FakeProcess:
        self.processes.append(FakeProcess())
        return self.processes[-1]

    @property
    def process(self) -> FakeProcess:
        return self.processes[-1]

    def says(self, *records: Up) -> None:
        self.process.says += records
        self.client.listen()

    def dies(self, at: float) -> None:
        self.machine = ORIGIN + at
        self.process.gone = True
        self.client.listen()


def note(id: int, t: float, end: float, pitch: int = 60) -> Play:
    return Play(id, "companion", t, end, 3, pitch, 80)


def on(id: int, t: float, late: float = 0.0, pitch: int = 60) -> SentNote:
    moment = ORIGIN + t
    return SentNote(id, moment, moment + late, "companion", (0x93, pitch, 80))


def off(id: int, t: float, pitch: int = 60) -> SentNote:
    return SentNote(id, ORIGIN + t, ORIGIN + t, "companion", (0x83, pitch, 0))


def test_commands_travel_in_machine_seconds() -> None:
    """Each command goes down as its record, with the machine's moments and the step's own."""
    bench = Bench()
    commands = [note(1, 2.0, 3.0), Cut(1, 2.5), Revoke(1), Silence()]
    assert bench.client.take(commands, 1.25) == []
    handed = ORIGIN + 1.25
    assert bench.process.told == [
        PlayNote(1, "companion", ORIGIN + 2.0, ORIGIN + 3.0, 3, 60, 80, handed),
        CutNote(1, ORIGIN + 2.5, handed),
        RevokeNote(1, handed),
        SilenceAll(handed),
    ]


def test_what_was_sent_comes_back_in_session_seconds() -> None:
    """A message sent is told once, with its note's id, the moment meant and when it left."""
    bench = Bench()
    bench.client.take([note(1, 2.0, 3.0)], 1.0)
    bench.says(News("output", "companion=Synth", ORIGIN), on(1, 2.0, late=0.001))
    sent = [Sent(2.0, 2.001, "Synth", "companion", 1, (0x93, 60, 80))]
    assert bench.client.advance(2.1) == sent
    assert bench.client.advance(2.2) == []


def test_what_is_heard_and_refused_and_lost_reaches_the_core() -> None:
    """Messages, refusals, notes that ended early and lost ports are inputs of the core."""
    bench = Bench()
    bench.client.take([note(7, 2.0, 3.0)], 1.0)
    bench.says(
        Heard(ORIGIN + 1.5, ORIGIN + 1.6, "player", (0x90, 60, 80)),
        Refused(7, "revoke", "too near", ORIGIN + 2.0, ORIGIN + 1.999),
        EndedEarly(7, ORIGIN + 2.5),
        News("lost", "player=Keys", ORIGIN + 2.6),
    )
    detail = {"note": 7, "why": "too near", "handed": 1.999}
    assert bench.client.inputs() == [
        MidiIn(1.5, "player", (0x90, 60, 80)),
        IoReport(2.0, "revoke refused", detail),
        IoReport(2.5, "note ended", {"note": 7, "t": 2.5}),
        IoReport(2.6, "port lost", {"role": "player", "name": "Keys"}),
    ]
    assert bench.client.inputs() == []


def test_a_dead_process_is_replaced_and_its_notes_are_cared_for() -> None:
    """What sounded is ended by the next process and logged so; what was to come is handed again."""
    bench = Bench()
    bench.client.level("bass", 0.5)
    commands = [note(1, 1.0, 4.0, 60), note(2, 5.0, 6.0, 62), note(3, 5.0, 6.0, 64), Revoke(3)]
    bench.client.take(commands, 0.5)
    bench.says(Ready(ORIGIN, 1), on(1, 1.0))
    bench.client.advance(1.5)
    bench.dies(2.0)
    assert len(bench.processes) == 2
    handed = ORIGIN + 0.5
    assert bench.process.told == [
        EndSounding("companion", 3, 60),
        SetLevel("bass", 0.5),
        PlayNote(2, "companion", ORIGIN + 5.0, ORIGIN + 6.0, 3, 62, 80, handed),
    ]
    reports = [r for r in bench.client.inputs() if isinstance(r, IoReport)]
    assert [r.what for r in reports] == ["process lost", "note ended"]
    assert reports[1].detail == {"note": 1, "t": 2.0}
    assert bench.client.advance(2.1) == [Sent(2.0, 2.0, "none", "companion", 1, (0x83, 60, 0))]
    bench.says(Ready(ORIGIN + 2.2, 2))
    told = [news.text for news in bench.client.news()]
    assert told == ["", "the I/O process: another one is being started", ""], "and taken back"


def turn(id: int, t: float, semitones: float) -> SentNote:
    data = wheel_message(3, wheel_value(semitones))
    return SentNote(id, ORIGIN + t, ORIGIN + t, "companion", data)


def test_a_wheel_left_bent_by_a_dead_process_is_centred_and_logged() -> None:
    """Whether the process dies while a bent note sounds or after its end, the next one is told to
    end it, which centres the wheel, and the log has the centre when it would have come."""
    for ended in (False, True):
        bench = Bench()
        bent = replace(note(1, 2.0, 3.0), bend="fall")
        bench.client.take([bent], 1.0)
        assert bench.client.last_end == 3.0 + BACK_SEC
        bench.says(on(1, 2.0), turn(1, 2.8, -0.5))
        if ended:
            bench.says(off(1, 3.0))
        bench.client.advance(2.8)
        bench.dies(3.05 if ended else 2.9)
        assert bench.process.told == [EndSounding("companion", 3, 60)]
        end = 3.0 if ended else 2.9
        owed = [(m.t, m.data) for m in bench.client.advance(3.1)]
        centre = (end + BACK_SEC, (0xE3, 0x00, 0x40))
        assert owed == ([centre] if ended else [(end, (0x83, 60, 0)), centre])


def test_a_wheel_at_rest_owes_nothing() -> None:
    """Once the wheel is back, by itself or by the next note of its channel, nothing is owed."""
    for back in (turn(1, 3.1, 0.0), turn(2, 3.05, 0.0)):
        bench = Bench()
        notes = [replace(note(1, 2.0, 3.0), bend="fall"), note(2, 3.05, 3.5, 62)]
        bench.client.take(notes, 1.0)
        bench.says(on(1, 2.0), turn(1, 2.8, -2.0), off(1, 3.0), back)
        bench.client.advance(3.1)
        bench.dies(3.2)
        assert not any(isinstance(record, EndSounding) for record in bench.process.told)


def test_a_note_that_a_second_process_refuses_never_sounded() -> None:
    """A note that came too late to the next process is told as ended at its very beginning."""
    bench = Bench()
    bench.client.take([note(1, 1.99, 4.0)], 0.5)
    bench.dies(2.0)
    bench.client.inputs()
    bench.says(Refused(1, "play", "too late", ORIGIN + 2.3, ORIGIN + 0.5))
    assert bench.client.inputs() == [
        IoReport(2.3, "note ended", {"note": 1, "t": 1.99, "why": "too late"})
    ]


def test_a_process_that_dies_at_once_is_not_started_in_a_circle() -> None:
    """The next start waits a second when the one before died as soon as it was there."""
    bench = Bench()
    bench.dies(0.1)
    bench.client.listen()
    assert len(bench.processes) == 1
    bench.machine = ORIGIN + RETRY_SEC + 0.1
    bench.client.listen()
    assert len(bench.processes) == 2


def test_a_new_session_knows_nothing_of_the_one_before() -> None:
    """Ids begin anew for the core, and what a late report says of the old session is dropped."""
    bench = Bench()
    bench.client.take([note(5, 1.0, 2.0)], 0.5)
    bench.client.begin(ORIGIN + 10.0)
    bench.says(off(5, 2.0), EndedEarly(5, ORIGIN + 2.0))
    assert bench.client.advance(0.1) == []
    assert bench.client.inputs() == []
    bench.client.take([note(1, 1.0, 2.0)], 0.5)
    told = bench.process.told[-1]
    assert isinstance(told, PlayNote)
    assert (told.id, told.t) == (6, ORIGIN + 11.0)
    bench.says(on(6, 11.0))
    assert [message.note for message in bench.client.advance(1.1)] == [1]


def test_a_process_that_hangs_is_replaced() -> None:
    """A note was due and nothing was said for three seconds: the process is ended, another one
    started; one that merely has nothing to say is left alone."""
    bench = Bench()
    bench.says(Ready(ORIGIN, 1))
    bench.machine = ORIGIN + 60.0
    bench.client.listen()
    assert len(bench.processes) == 1
    bench.client.take([note(1, 61.0, 75.0)], 60.0)
    bench.machine = ORIGIN + 60.0 + STUCK_SEC + 0.1
    bench.client.listen()
    assert len(bench.processes) == 2
    assert bench.processes[0].killed
    assert bench.processes[0].closed
