"""What holds of every MIDI system, whatever is behind it: one class of tests for all of them.

Two programs, ours and theirs, are on one system and make ports for each other. A test module
defines a fixture ``rig`` and a class that inherits from `MidiLaws`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import perf_counter, sleep

import pytest

from jam.errors import PortError
from jam.ports.midi import MidiInput, MidiSystem, Stamped
from jam.ports.names import find, plain

PATIENCE_SEC = 5.0

# One of each channel message, and the system messages a clock sends: MIDI 1.0, tables 1 and 5.
CHANNEL_MESSAGES = [
    (status | channel, *data)
    for channel in (0, 9, 15)
    for status, data in (
        (0x80, (60, 64)),
        (0x90, (0, 127)),
        (0x90, (127, 1)),
        (0xA0, (60, 5)),
        (0xB0, (64, 127)),
        (0xC0, (40,)),
        (0xD0, (99,)),
        (0xE0, (127, 64)),
    )
]
CLOCK_MESSAGES = [(0xF2, 16, 1), (0xFA,), (0xF8,), (0xF8,), (0xFC,), (0xFB,)]


@dataclass
class Rig:
    """Two programs on one system; a message takes up to ``period_sec`` from one to the other."""

    ours: MidiSystem
    theirs: MidiSystem
    period_sec: float

    def gather(self, port: MidiInput, count: int) -> list[Stamped]:
        """Poll until so many messages have come, then once more: there may be too many."""
        got: list[Stamped] = []
        self.until(lambda: len(got.extend(port.poll()) or got) >= count)
        sleep(2 * self.period_sec)
        return got + port.poll()

    def until(self, what: Callable[[], object]) -> None:
        """Wait for it; a test that waits in vain fails by what it looks at next."""
        end = perf_counter() + PATIENCE_SEC
        while not what() and perf_counter() < end:
            sleep(0.0005)

    def connected(
        self, source: str = "keys"
    ) -> tuple[MidiInput, Callable[[tuple[int, ...]], None]]:
        """Return our input from a port of theirs, and what sends to it."""
        output = self.theirs.virtual_output(source)
        return self.ours.open_input(self.heard(source)), output.send

    def heard(self, part: str) -> str:
        """Return the name of their port that we can hear."""
        name = find(part, self.ours.inputs())
        assert name is not None
        return name


class MidiLaws:
    """The tests."""

    def test_ports_of_others_are_listed_ours_are_not(self, rig: Rig) -> None:
        """Each program sees what the other made, on the right side, and nothing of its own."""
        keys = rig.theirs.virtual_output("keys")
        module = rig.theirs.virtual_input("module")
        rig.ours.virtual_input("player")
        rig.ours.virtual_output("companion")
        rig.ours.open_input(rig.heard("keys"))
        rig.ours.open_output(rig.ours.outputs()[0])
        assert rig.ours.inputs() == [keys.name]
        assert rig.ours.outputs() == [module.name]
        assert any("companion" in name for name in rig.theirs.inputs())
        assert any("player" in name for name in rig.theirs.outputs())
        assert not any("keys" in name for name in rig.theirs.inputs())

    def test_a_thousand_messages_in_order(self, rig: Rig) -> None:
        """None lost, none doubled, none overtaken, though nobody reads meanwhile."""
        port, send = rig.connected()
        said = [(0x90 | i % 16, i % 128, 1 + i // 128) for i in range(1000)]
        for data in said:
            send(data)
        assert [data for _, data in rig.gather(port, 1000)] == said

    def test_a_second_of_a_dense_stream_waits_for_its_reader(self, rig: Rig) -> None:
        """4,000 messages that nobody reads are all there when somebody does."""
        port, send = rig.connected()
        said = [(0xB0, i % 120, i // 120) for i in range(4000)]
        for i, data in enumerate(said):
            send(data)
            if i % 40 == 39:
                sleep(rig.period_sec / 2)
        assert [data for _, data in rig.gather(port, 4000)] == said

    def test_bytes_are_intact(self, rig: Rig) -> None:
        """Every kind of channel message arrives as it was sent."""
        port, send = rig.connected()
        for data in CHANNEL_MESSAGES:
            send(data)
        assert [data for _, data in rig.gather(port, len(CHANNEL_MESSAGES))] == CHANNEL_MESSAGES

    def test_the_clock_comes_through_and_what_only_fills_the_log_does_not(self, rig: Rig) -> None:
        """Ticks, start, stop, continue and song position; no SysEx, no active sensing."""
        port, send = rig.connected()
        send((0xF0, 0x7D, 1, 2, 3, 0xF7))
        for data in CLOCK_MESSAGES:
            send((0xFE,))
            send(data)
        assert [data for _, data in rig.gather(port, len(CLOCK_MESSAGES))] == CLOCK_MESSAGES

    def test_stamps_are_within_a_period(self, rig: Rig) -> None:
        """In order, never after the reading, and in the median a period after sending at most."""
        port, send = rig.connected()
        late = []
        last = 0.0
        for i in range(60):
            sent = perf_counter()
            send((0x90, i, 64))
            got: list[Stamped] = []
            rig.until(lambda got=got: got.extend(port.poll()) or got)  # type: ignore[misc]
            ((t, _),) = got
            assert last <= t <= perf_counter()
            late.append(t - sent)
            last = t
        assert -0.001 <= median(late) <= rig.period_sec + 0.001

    def test_a_stalled_reader_gets_the_gaps_as_they_were(self, rig: Rig) -> None:
        """Messages read long after they came keep their distances, a period more or less."""
        port, send = rig.connected()
        send((0xF8,))
        rig.gather(port, 1)
        sent = []
        for i in range(20):
            sent.append(perf_counter())
            send((0x90, i, 1))
            sleep(0.01)
        dates = [t for t, _ in rig.gather(port, 20)]
        assert median(d - s for d, s in zip(dates, sent, strict=True)) <= rig.period_sec + 0.001

    def test_our_own_ports_work_both_ways(self, rig: Rig) -> None:
        """Others hear what we send on a port of our own, and reach us on another."""
        says, hears = rig.ours.virtual_output("companion"), rig.ours.virtual_input("player")
        ear = rig.theirs.open_input(find("companion", rig.theirs.inputs()) or "")
        mouth = rig.theirs.open_output(find("player", rig.theirs.outputs()) or "")
        says.send((0x90, 61, 1))
        mouth.send((0x90, 62, 2))
        assert [data for _, data in rig.gather(ear, 1)] == [(0x90, 61, 1)]
        assert [data for _, data in rig.gather(hears, 1)] == [(0x90, 62, 2)]

    def test_a_name_that_is_not_there_is_told_with_those_that_are(self, rig: Rig) -> None:
        """Opening wants the exact name; the error lists what there is."""
        keys = rig.theirs.virtual_output("keys")
        with pytest.raises(PortError) as caught:
            rig.ours.open_input("kazoo")
        assert "kazoo" in caught.value.problem
        assert keys.name in caught.value.mend
        with pytest.raises(PortError):
            rig.ours.open_output("kazoo")

    def test_what_is_pulled_leaves_the_list_and_falls_silent(self, rig: Rig) -> None:
        """The watcher sees the name missing; the open input simply has no more to say."""
        output = rig.theirs.virtual_output("keys")
        port = rig.ours.open_input(rig.heard("keys"))
        output.close()
        output.close()
        rig.until(lambda: not rig.ours.inputs())
        assert rig.ours.inputs() == []
        assert port.poll() == []
        with pytest.raises(PortError):
            output.send((0x90, 60, 1))

    def test_what_is_put_back_is_opened_again_by_name(self, rig: Rig) -> None:
        """The same name after a re-plug; what it plays is heard on the new port."""
        output = rig.theirs.virtual_output("keys")
        port = rig.ours.open_input(rig.heard("keys"))
        output.close()
        rig.until(lambda: not rig.ours.inputs())
        port.close()
        again = rig.theirs.virtual_output("keys")
        rig.until(rig.ours.inputs)
        port = rig.ours.open_input(rig.heard("keys"))
        again.send((0x90, 64, 1))
        assert [data for _, data in rig.gather(port, 1)] == [(0x90, 64, 1)]

    def test_a_port_that_was_closed_is_free_again(self, rig: Rig) -> None:
        """Closing twice is once, gives the name back, and hides nothing of others."""
        mine = rig.ours.virtual_output("line")
        name = mine.name
        mine.close()
        mine.close()
        theirs = rig.theirs.virtual_output("line")
        assert rig.ours.inputs() == [theirs.name]
        assert plain(rig.ours.virtual_output("line").name) == plain(name)
