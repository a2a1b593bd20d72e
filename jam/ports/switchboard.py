"""The I/O process without its pipes and its clock: commands in, messages out, what came in up.

It joins the ledger of notes, the MIDI inputs and outputs, the player's own keys passed on, and the
built-in sound. A port that goes is given up: what sounded there is ended in the ledger
(`EndedEarly`, and the note-off in the log's sense; its bytes are sent when the port is back).

All times are machine seconds; ``tell`` takes what goes up to the brain.
"""

from __future__ import annotations

from collections.abc import Callable

from jam.errors import PortError
from jam.events import PLAYER
from jam.players.bends import CENTRE, is_wheel, value_of, wheel_message
from jam.ports.inlets import Inlets
from jam.ports.ledger import Entry, Ledger, Message
from jam.ports.local_control import LocalControl
from jam.ports.midi import MidiSystem, Stamped
from jam.ports.outlets import THRU, Outlets, User, Voice
from jam.ports.sounding import Sounding
from jam.ports.thru import Thru
from jam.ports.wanted import same_device
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
from jam.ports.wishes import AUTO, PartWish, Wishes


class Switchboard:
    """``system`` is None where there is no MIDI; ``clock`` returns machine seconds.

    MIDI leaves ``lead_sec`` before its moment, so that it is heard in time.
    """

    def __init__(
        self,
        wishes: Wishes,
        system: MidiSystem | None,
        sound: Sounding,
        tell: Callable[[Up], None],
        clock: Callable[[], float],
    ) -> None:
        self.lead_sec = wishes.midi_out_ms / 1000.0
        self.system = system
        self._ledger = Ledger()
        self._sound = sound
        self._tell = tell
        self._clock = clock
        self._thru_wish = wishes.thru
        self._thru = Thru(wishes.thru)
        self._twice = False
        self._local = LocalControl(self.news)
        self._inlets = Inlets(wishes.inputs, wishes.name, self.news)
        voices: dict[User, Voice] = {THRU: Voice(wishes.thru.channel, None, wishes.thru.level)}
        for wish in wishes.parts:
            voices[wish.part] = Voice(wish.channel, wish.program, wish.level)
        self._outlets = Outlets(voices, wishes.name, self.news)
        for wish in wishes.parts:
            if not _by_sound(wish):
                self._outlets.want(wish.part, wish.port)
        if wishes.thru.to in ("midi", "both"):
            self._outlets.want(THRU, wishes.thru.port)
        self._by_sound = [wish.part for wish in wishes.parts if _by_sound(wish)]

    def news(self, topic: str, text: str) -> None:
        """Tell news."""
        self._tell(News(topic, text, self._clock()))

    # --- commands ------------------------------------------------------------------------

    def take(self, record: Down) -> None:
        """Do what the brain asks."""
        match record:
            case PlayNote() | RevokeNote() | CutNote() | SilenceAll():
                self._enter(record)
            case EndSounding(part, channel, pitch):
                if not self._ledger.holds(part, channel, pitch):
                    self._send_off(part, (0x80 | channel, pitch, 0))
                    self._send_off(part, wheel_message(channel, CENTRE))
            case SetLevel(part, level):
                self._outlets.level(part, level)
                self._sound.level(part, level)

    def silence(self) -> None:
        """End every note now: the ledger's, the player's that were passed on, whatever rings."""
        self._enter(SilenceAll(self._clock()))

    def _enter(self, entry: Entry) -> None:
        deviations = self._ledger.take(entry, self._clock() + self.lead_sec)
        for deviation in deviations:
            self._tell(deviation)
        refused = any(isinstance(deviation, Refused) for deviation in deviations)
        if not refused or isinstance(entry, CutNote | SilenceAll):
            self._sound.take(entry)
        if isinstance(entry, SilenceAll):
            while (message := self._ledger.peek()) is not None:
                self.send(message)
            self._end_thru()
            self._outlets.hush()

    # --- notes ---------------------------------------------------------------------------

    @property
    def next_due(self) -> float:
        """When the next message is to leave; inf if there is none."""
        return self._ledger.next_due - self.lead_sec

    def next_message(self) -> Message | None:
        """Return the message that is to leave then, ready to be sent."""
        return self._ledger.peek()

    def send(self, message: Message) -> None:
        """Send the message of `next_message` now; enter it and report it after that."""
        part, data = message.part, message.data
        at = self._clock()
        went = self._outlets.send(part, data)
        self._ledger.commit(message)
        self._tell(SentNote(message.id, message.t, at, part, data))
        if is_wheel(data):
            if not went and value_of(data) == CENTRE:
                self._outlets.owe(part, data)
        elif data[0] >= 0x90:
            self._outlets.used(part, data[0] & 0x0F)
        else:
            self._sound.note_off(message)
            if not went:
                self._outlets.owe(part, data)
        self._settle()

    def _send_off(self, user: User, data: tuple[int, ...]) -> None:
        if not self._outlets.send(user, data):
            self._outlets.owe(user, data)

    # --- what comes in -------------------------------------------------------------------

    def poll(self) -> None:
        """Tell what came in, and pass the player's keys on."""
        for role, stamped in self._inlets.poll():
            if role == PLAYER and self._thru_wish.to != "off":
                self._pass_on(stamped)
            self._tell(Heard(stamped.t, self._clock(), role, stamped.data))
        self._settle()

    def poll_sound(self) -> None:
        """Tell what the sound has to say."""
        for text in self._sound.poll(self._clock()):
            self.news("sound", text)

    def _pass_on(self, stamped: Stamped) -> None:
        for data in self._thru.take(stamped.data):
            self._send_thru(data, stamped.t)

    def _send_thru(self, data: tuple[int, ...], t: float) -> None:
        wish = self._thru_wish
        if wish.to in ("midi", "both") and not self._twice:
            if data[0] < 0x90:
                self._send_off(THRU, data)
            else:
                self._outlets.send(THRU, data)
                self._outlets.used(THRU, wish.channel)
        if wish.to in ("sound", "both"):
            self._sound.thru(data, t, wish.level)

    def _end_thru(self) -> None:
        for data in self._thru.end():
            self._send_thru(data, self._clock())

    # --- ports that come and go ----------------------------------------------------------

    def look(self) -> None:
        """Notice which ports went, take those that are there now."""
        inputs, outputs = self._names()
        self._inlets.look(self.system, inputs)
        self._outlets.look(self.system, outputs)
        self._settle()
        for user, line in self._outlets.lines.items():
            self._ledger.lead(user, line.name)
        keyboard = self._inlets.name_of(PLAYER)
        if self._thru_wish.local_off and self.system is not None:
            lines = self._outlets.lines.values()
            self._local.look(self.system, outputs, keyboard, lines)
        self._mind_double(keyboard)

    def do_without_sound(self) -> None:
        """Let the parts that would have sounded here play by MIDI, if ``auto`` is their wish."""
        for part in self._by_sound:
            self._outlets.want(part, AUTO)
        self._by_sound.clear()
        self.look()

    def close(self) -> None:
        """Close the sound and all ports. It ends no notes: `silence` does."""
        self._sound.close()
        self._inlets.close()
        self._outlets.close()
        if self.system is not None:
            self.system.close()

    def restore(self) -> None:
        """Let the player's keyboard sound its own keys again."""
        self._local.restore()

    def _names(self) -> tuple[list[str], list[str]]:
        if self.system is None:
            return [], []
        try:
            return self.system.inputs(), self.system.outputs()
        except PortError as error:
            self.news("fault", str(error))
            self.system.close()
            self.system = None
            return [], []

    def _mind_double(self, keyboard: str) -> None:
        """Pass nothing on to the keyboard that it comes from, unless that is silent itself."""
        line = self._outlets.lines.get(THRU)
        same = line is not None and bool(keyboard) and same_device(keyboard, line.name)
        twice = same and not self._thru_wish.local_off
        if twice and not self._twice:
            self._end_thru()
            self.news("missing", f"thru: {keyboard} would sound each key twice. {_LOCAL_OFF}")
        self._twice = twice

    def _settle(self) -> None:
        """End what sounded where a port was lost, and what a lost keyboard held."""
        while self._outlets.lost or self._inlets.lost:
            users, roles = list(self._outlets.lost), list(self._inlets.lost)
            self._outlets.lost.clear()
            self._inlets.lost.clear()
            if PLAYER in roles or THRU in users:
                self._end_thru()
            now = self._clock()
            for off in self._ledger.lose(users, now + self.lead_sec):
                self._tell(EndedEarly(off.id, off.t))
                self._tell(SentNote(off.id, off.t, now, off.part, off.data))
                self._outlets.owe(off.part, off.data)


_LOCAL_OFF = "Ask for 'local off', or send them somewhere else"


def _by_sound(wish: PartWish) -> bool:
    """Say whether a part plays by the built-in sound, and by MIDI only if there is none."""
    return wish.port == AUTO and wish.sound is not None
