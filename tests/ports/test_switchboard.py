"""Which role hears what, which part goes where, and what happens when a port comes or goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from jam.events import Part
from jam.ports.memory_midi import MemoryMidi, PatchBay, Sink
from jam.ports.sounding import FAULTS_AT_MOST, Sounding
from jam.ports.switchboard import Switchboard
from jam.ports.wire import (
    CutNote,
    Down,
    EndedEarly,
    EndSounding,
    Heard,
    News,
    PlayNote,
    Refused,
    RevokeNote,
    SentNote,
    SetLevel,
    SilenceAll,
    Up,
)
from jam.ports.wishes import PartWish, ThruWish, Wishes

PROGRAM, CONTROL, OFF, ON, WHEEL = 0xC0, 0xB0, 0x80, 0x90, 0xE0
CENTRE = (0x00, 0x40)  # of the pitch wheel, low and high seven bits: MIDI 1.0
VOLUME, DAMPER, LOCAL, ALL_OFF = 7, 64, 122, 123  # MIDI 1.0 Detailed Specification


@dataclass
class FakeSound:
    """Writes down what it is asked for; raises when told to."""

    asked: list[tuple[object, ...]] = field(default_factory=list)
    broken: bool = False

    def _ask(self, *what: object) -> None:
        if self.broken:
            raise RuntimeError("the device is gone")
        self.asked.append(what)

    def play(self, note: PlayNote) -> None:
        self._ask("play", note.id)

    def revoke(self, id: int) -> None:
        self._ask("revoke", id)

    def cut(self, id: int, t: float) -> None:
        self._ask("cut", id, t)

    def silence(self, t: float) -> None:
        self._ask("silence", t)

    def level(self, part: Part | None, level: float) -> None:
        self._ask("level", part, level)

    def thru(self, pitch: int, velocity: int, t: float) -> None:
        self._ask("thru", pitch, velocity)

    def thru_damper(self, down: bool) -> None:
        self._ask("damper", down)

    def poll(self, now: float) -> list[str]:
        return []

    def close(self) -> None:
        self._ask("close")


class Room:
    """A switchboard on a patch bay, with a hand on the clock."""

    def __init__(
        self,
        wishes: Wishes,
        *,
        sources: Sequence[str] = (),
        sinks: Sequence[str] = (),
        sound: FakeSound | None = None,
        has_virtual: bool = True,
    ) -> None:
        self.bay = PatchBay()
        self.sources = {name: self.bay.plug_source(name) for name in sources}
        self.sinks = {name: self.bay.plug_sink(name) for name in sinks}
        self.up: list[Up] = []
        system = MemoryMidi(self.bay, wishes.name, has_virtual=has_virtual)
        parts = [wish.part for wish in wishes.parts if wish.sound is not None]
        sounding = Sounding(parts, lambda topic, text: self.up.append(News(topic, text, 0)))
        self.board = Switchboard(wishes, system, sounding, self.up.append, lambda: self.bay.now)
        self.board.look()
        if sound is not None:
            sounding.open(sound)
        else:
            self.board.do_without_sound()

    def take(self, *records: Down) -> None:
        for record in records:
            self.board.take(record)

    def until(self, t: float) -> None:
        """Let time pass and send what is due."""
        while self.board.next_due <= t:
            self.bay.advance_to(self.board.next_due)
            message = self.board.next_message()
            assert message is not None
            self.board.send(message)
        self.bay.advance_to(t)

    def press(self, source: str, *data: int) -> None:
        self.sources[source].send(data)
        self.board.poll()

    def replug_sink(self, name: str) -> Sink:
        self.sinks[name] = self.bay.plug_sink(name)
        self.board.look()
        return self.sinks[name]

    def news(self) -> list[tuple[str, str]]:
        """Return the news since the last call; nothing else is taken."""
        found = [r for r in self.up if isinstance(r, News)]
        self.up[:] = [r for r in self.up if not isinstance(r, News)]
        return [(news.topic, news.text) for news in found]

    def got(self, sink: str) -> list[tuple[int, ...]]:
        return [data for _, data in self.sinks[sink].poll()]

    def of(self, kind: type) -> list[Up]:
        return [record for record in self.up if isinstance(record, kind)]


def note(id: int, t: float, end: float, pitch: int = 60, part: Part = "companion") -> PlayNote:
    return PlayNote(id, part, t, end, 2, pitch, 80, 0.0)


# --- inputs ------------------------------------------------------------------------------


def test_a_port_named_by_two_roles_is_the_first_ones() -> None:
    """Keys and cues of one keyboard are the player's; its clock goes to the clock, if asked for."""
    inputs = (("player", "Keys"), ("cue", "keys"), ("clock", "Keys"), ("band", "Pad"))
    room = Room(Wishes(inputs=inputs), sources=("Keys", "Pad"))
    assert room.news() == [
        ("input", "player=Keys"),
        ("input", "cue=Keys"),
        ("input", "clock=Keys"),
        ("input", "band=Pad"),
    ]
    room.press("Keys", ON, 60, 80)
    room.press("Keys", 0xF8)
    room.press("Keys", 0xFE)
    room.press("Pad", 0xF8)
    room.press("Pad", ON, 36, 80)
    heard = [(r.port, r.data) for r in room.up if isinstance(r, Heard)]
    assert heard == [("player", (ON, 60, 80)), ("clock", (0xF8,)), ("band", (ON, 36, 80))]


def test_auto_takes_what_is_plugged_in_later() -> None:
    """While there is none, other programs can play to us; a keyboard takes that place."""
    room = Room(Wishes(inputs=(("player", "auto"),), name="us"), sources=("Midi Through",))
    assert [topic for topic, _ in room.news()] == ["input", "missing"]
    assert [sink.name for sink in room.bay.sinks] == ["us:player"]
    room.sources["Keys"] = room.bay.plug_source("Keys")
    room.board.look()
    assert room.news() == [("input", "player=Keys")]
    assert room.bay.sinks == []


def test_a_port_of_ours_that_is_played_on_stays() -> None:
    """Who plays to our own port is not cut off because something else is plugged in."""
    room = Room(Wishes(inputs=(("player", "auto"),), name="us"))
    room.bay.sinks[0].take((ON, 60, 80))
    room.board.poll()
    room.bay.plug_source("Keys")
    room.board.look()
    assert room.bay.sinks[0].name == "us:player"
    assert [r.port for r in room.up if isinstance(r, Heard)] == ["player"]


def test_when_the_whole_system_dies_all_is_lost_and_comes_back() -> None:
    """As when a MIDI server is stopped and started: ports of our own are made again too."""
    wishes = Wishes(inputs=(("player", "virtual"), ("band", "Keys")), name="us")
    room = Room(wishes, sources=("Keys",))
    room.news()
    room.bay.fail()
    room.board.poll()
    room.board.look()
    assert [news for news in room.news() if news[0] == "lost"] == [
        ("lost", "player=us:player"),
        ("lost", "band=Keys"),
    ]
    room.bay.restore()
    room.bay.plug_source("Keys")
    room.board.look()
    assert room.news() == [("input", "player=us:player"), ("found", "band=Keys")]


def test_a_lost_keyboard_is_taken_again_by_name() -> None:
    """Numbers may have changed; another keyboard that was there all the time is not taken."""
    room = Room(Wishes(inputs=(("player", "auto"),)), sources=("Keys 20:0", "Other 24:0"))
    room.bay.pull("Keys 20:0")
    room.board.look()
    assert room.news() == [("input", "player=Keys 20:0"), ("lost", "player=Keys 20:0")]
    room.board.look()
    assert room.news() == []
    room.sources["Keys"] = room.bay.plug_source("Keys 28:0")
    room.board.look()
    assert room.news() == [("found", "player=Keys 28:0")]
    room.press("Keys", ON, 60, 80)
    assert len(room.of(Heard)) == 1


def test_another_keyboard_plugged_in_instead_is_taken() -> None:
    """With auto, what comes after the loss is what the player means."""
    room = Room(Wishes(inputs=(("player", "auto"),)), sources=("Keys", "Other"))
    room.bay.pull("Keys")
    room.board.look()
    room.bay.plug_source("Spare")
    room.board.look()
    assert room.news()[-1] == ("found", "player=Spare")


def test_what_is_missing_is_said_once() -> None:
    """A wish that is not met names what is there; it is met when the port comes."""
    room = Room(Wishes(inputs=(("player", "Keys"),)), sources=("Pad",))
    room.board.look()
    assert room.news() == [
        ("missing", 'player: no MIDI input that fits "Keys". There are: Pad'),
    ]
    room.bay.plug_source("My Keys")
    room.board.look()
    assert room.news() == [("input", "player=My Keys")]


# --- outputs -----------------------------------------------------------------------------


PIANO = PartWish("companion", "Module", None, 0.5, 2, 11)
BASS = PartWish("bass", "module", None, 1.0, 3, None)


def test_an_output_is_opened_once_and_set_up() -> None:
    """Parts that name one port share it; each is told its program and its loudness, its pitch
    wheel at its centre."""
    room = Room(Wishes(parts=(PIANO, BASS)), sinks=("Module",))
    assert room.news() == [("output", "companion=Module"), ("output", "bass=Module")]
    assert room.got("Module") == [
        (WHEEL | 2, *CENTRE),
        (PROGRAM | 2, 11),
        (CONTROL | 2, VOLUME, 64),
        (WHEEL | 3, *CENTRE),
        (CONTROL | 3, VOLUME, 127),
    ]
    room.take(SetLevel("bass", 0.0), SetLevel(None, 0.5))
    assert room.got("Module") == [
        (CONTROL | 3, VOLUME, 0),
        (CONTROL | 2, VOLUME, 32),
        (CONTROL | 3, VOLUME, 0),
    ]


def test_notes_go_out_and_are_reported() -> None:
    """What leaves is what is reported, with the moment meant."""
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.got("Module")
    room.take(note(1, 1.0, 2.0), note(2, 1.5, 3.0, 64), RevokeNote(2, 0.0))
    room.until(9.0)
    assert room.got("Module") == [(ON | 2, 60, 80), (OFF | 2, 60, 0)]
    assert room.of(SentNote) == [
        SentNote(1, 1.0, 1.0, "companion", (ON | 2, 60, 80)),
        SentNote(1, 2.0, 2.0, "companion", (OFF | 2, 60, 0)),
    ]


def test_notes_leave_earlier_where_the_way_is_long() -> None:
    """With a latency of 20 ms a note leaves 20 ms before its moment."""
    room = Room(Wishes(parts=(PIANO,), midi_out_ms=20.0), sinks=("Module",))
    room.take(note(1, 1.0, 2.0))
    assert room.board.next_due == 0.98


def test_a_lost_output_is_owed_its_note_offs() -> None:
    """Its notes are ended and told; back again it gets the offs, quiet, and its set-up first."""
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.take(note(1, 1.0, 5.0), note(2, 3.0, 4.0, 64))
    room.until(2.0)
    room.bay.pull("Module")
    room.board.look()
    assert room.news()[-1] == ("lost", "companion=Module")
    assert room.of(EndedEarly) == [EndedEarly(1, 2.0)]
    assert room.up[-1] == SentNote(1, 2.0, 2.0, "companion", (OFF | 2, 60, 0))
    room.until(3.5)
    assert room.up[-1] == SentNote(2, 3.0, 3.0, "companion", (ON | 2, 64, 80)), "the form goes on"
    back = room.replug_sink("Module")
    assert room.news() == [("found", "companion=Module")]
    assert [data for _, data in back.poll()] == [
        (OFF | 2, 60, 0),
        (CONTROL | 2, DAMPER, 0),
        (CONTROL | 2, ALL_OFF, 0),
        (WHEEL | 2, *CENTRE),
        (WHEEL | 2, *CENTRE),
        (PROGRAM | 2, 11),
        (CONTROL | 2, VOLUME, 64),
    ]


def test_a_port_that_raises_is_lost_at_once() -> None:
    """The send that fails is enough; the note is told as ended."""
    room = Room(Wishes(parts=(PIANO, BASS)), sinks=("Module",))
    room.take(note(1, 1.0, 5.0))
    room.bay.pull("Module")
    room.until(1.0)
    assert room.of(EndedEarly) == [EndedEarly(1, 1.0)]
    assert {text for topic, text in room.news() if topic == "lost"} == {
        "companion=Module",
        "bass=Module",
    }


def test_what_a_predecessor_left_is_ended() -> None:
    """A bare note-off, and the wheel at its centre, but not for a key on which a note of ours
    sounds."""
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.take(note(1, 1.0, 5.0))
    room.until(1.0)
    room.got("Module")
    room.take(EndSounding("companion", 2, 61), EndSounding("companion", 2, 60))
    assert room.got("Module") == [(OFF | 2, 61, 0), (WHEEL | 2, *CENTRE)]


def test_panic_ends_all_and_lets_go() -> None:
    """Offs for what sounds, dampers up, all notes off, wheels centred; dated when it was handed
    over."""
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.take(note(1, 1.0, 5.0), note(2, 3.0, 5.0))
    room.until(2.0)
    room.got("Module")
    room.take(SilenceAll(1.999))
    assert room.got("Module") == [
        (OFF | 2, 60, 0),
        (CONTROL | 2, DAMPER, 0),
        (CONTROL | 2, ALL_OFF, 0),
        (WHEEL | 2, *CENTRE),
    ]
    assert room.up[-1] == SentNote(1, 1.999, 2.0, "companion", (OFF | 2, 60, 0))


def test_a_bend_goes_out_and_comes_back_whatever_happens() -> None:
    """Played to its end, cut, silenced or lost in mid fall: the last that the module hears of the
    wheel is its centre, 0x2000 (MIDI 1.0)."""
    fall = PlayNote(1, "companion", 1.0, 2.0, 2, 60, 80, 0.0, "fall")

    def wheels(data: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
        return [d[1:] for d in data if d[0] == WHEEL | 2]

    for what in (None, CutNote(1, 1.9, 1.9), SilenceAll(1.9)):
        room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
        room.take(fall)
        room.until(1.9)
        assert wheels(room.got("Module"))[-1][1] < 64, "below the centre"
        if what is not None:
            room.take(what)
        room.until(9.0)
        assert wheels(room.got("Module"))[-1] == CENTRE
        assert room.up[-1].data == (WHEEL | 2, *CENTRE)
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.take(fall)
    room.until(1.9)
    room.bay.pull("Module")
    room.board.look()
    room.until(5.0)
    back = room.replug_sink("Module")
    assert wheels([data for _, data in back.poll()])[-1] == CENTRE


def test_auto_is_the_sound_or_else_the_first_port() -> None:
    """The built-in sound where it is open, else MIDI."""
    wishes = Wishes(parts=(PartWish("companion", "auto"), PartWish("bass", "auto", None)))
    with_sound = Room(wishes, sinks=("Midi Through", "Module"), sound=FakeSound())
    assert with_sound.news() == [("output", "bass=Module")]
    without = Room(wishes, sinks=("Midi Through", "Module"))
    assert without.news() == [("output", "bass=Module"), ("output", "companion=Module")]


def test_a_virtual_output_is_shared() -> None:
    """All who wish for a port of our own send through one."""
    wishes = Wishes(
        parts=(PartWish("companion", "virtual"), PartWish("bass", "virtual")), name="us"
    )
    room = Room(wishes)
    assert [source.name for source in room.bay.sources] == ["us:out"]
    assert room.news() == [("output", "companion=us:out"), ("output", "bass=us:out")]


def test_without_any_midi_notes_are_still_kept_in_order() -> None:
    """Nothing to send to: each note is reported at its moment, and the whole system may die."""
    room = Room(Wishes(parts=(PIANO,)), sinks=("Module",))
    room.take(note(1, 1.0, 2.0))
    room.bay.fail()
    room.board.look()
    room.until(9.0)
    assert [r.t for r in room.up if isinstance(r, SentNote)] == [1.0, 2.0]


# --- the player's own keys ---------------------------------------------------------------


THRU = Wishes(inputs=(("player", "Keys"),), thru=ThruWish("midi", "Module", 0))


def test_thru_ends_when_the_keyboard_goes() -> None:
    """The player's held keys and damper are let go where they were passed on to."""
    room = Room(THRU, sources=("Keys",), sinks=("Module",))
    assert ("output", "thru=Module") in room.news()
    room.got("Module")
    room.press("Keys", 0x93, 60, 80)
    room.press("Keys", 0xB3, DAMPER, 127)
    room.bay.pull("Keys")
    room.board.look()
    assert room.got("Module") == [(ON, 60, 80), (CONTROL, DAMPER, 127), (OFF, 60, 0),
                                  (CONTROL, DAMPER, 0)]  # fmt: skip


def test_thru_to_the_keyboard_itself_is_refused() -> None:
    """Each key would sound twice; unless the keyboard is silent by itself."""
    wish = ThruWish("midi", "Keys", 0)
    room = Room(Wishes(inputs=(("player", "Keys"),), thru=wish), sources=("Keys",), sinks=("Keys",))
    assert any("twice" in text for topic, text in room.news() if topic == "missing")
    room.got("Keys")
    room.press("Keys", ON, 60, 80)
    assert room.got("Keys") == []
    quiet = ThruWish("midi", "Keys", 0, local_off=True)
    room = Room(Wishes(inputs=(("player", "Keys"),), thru=quiet), sources=("Keys",),
                sinks=("Keys",))  # fmt: skip
    assert room.got("Keys")[1:] == [(CONTROL | channel, LOCAL, 0) for channel in range(16)]
    room.press("Keys", ON, 60, 80)
    assert room.got("Keys") == [(ON, 60, 80)]
    room.board.restore()
    assert room.got("Keys") == [(CONTROL | channel, LOCAL, 127) for channel in range(16)]


def test_a_keyboard_that_cannot_be_told_is_named() -> None:
    """Without an output of the same name the player has to press the switch himself."""
    wish = ThruWish("midi", "Module", 0, local_off=True)
    room = Room(
        Wishes(inputs=(("player", "Keys"),), thru=wish), sources=("Keys",), sinks=("Module",)
    )
    assert any("local off" in text for topic, text in room.news() if topic == "missing")


# --- sound -------------------------------------------------------------------------------


def test_sound_gets_what_the_ledger_took() -> None:
    """A part with sound sounds, whatever MIDI does; a note that ends early ends there too."""
    sound = FakeSound()
    wishes = Wishes(parts=(PartWish("companion", "none"), PartWish("bass", "none", None)),
                    thru=ThruWish("sound", level=0.5), inputs=(("player", "Keys"),))  # fmt: skip
    room = Room(wishes, sources=("Keys",), sound=sound)
    room.take(note(1, 1.0, 5.0), note(2, 2.0, 5.0), note(3, 4.0, 5.0, part="bass"))
    room.take(RevokeNote(2, 0.0), note(4, 2.0, 3.0, 62), note(5, 3.0, 4.0))
    room.until(2.5)
    room.take(CutNote(4, 2.75, 2.5), RevokeNote(4, 2.5))
    room.press("Keys", ON, 70, 80)
    room.press("Keys", CONTROL, DAMPER, 127)
    room.until(4.5)
    room.take(SilenceAll(4.5))
    assert sound.asked == [
        ("play", 1),
        ("play", 2),
        ("revoke", 2),
        ("play", 4),
        ("play", 5),
        ("cut", 4, 2.75),
        ("thru", 70, 40),
        ("damper", True),
        ("cut", 1, 3.0),
        ("silence", 4.5),
        ("thru", 70, 0),
        ("damper", False),
    ]
    assert [r.what for r in room.up if isinstance(r, Refused)] == ["revoke"]


def test_a_sound_that_breaks_is_told_and_survived() -> None:
    """One line when it begins to fail, one when it is given up at last, and MIDI goes on."""
    sound = FakeSound()
    room = Room(Wishes(parts=(PartWish("companion", "Module"),)), sinks=("Module",), sound=sound)
    room.news()
    sound.broken = True
    room.take(note(1, 1.0, 2.0), note(2, 3.0, 4.0))
    room.until(9.0)
    gone = "RuntimeError: the device is gone"
    assert room.news() == [("fault", f"the built-in sound missed something: {gone}")]
    room.take(*(note(id, 10.0 + id, 11.0 + id) for id in range(3, 3 + FAULTS_AT_MOST)))
    assert room.news() == [("fault", f"the built-in sound stopped: {gone}")]
    assert len(room.of(SentNote)) == 4
