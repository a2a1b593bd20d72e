"""The ear of the core: whose note it is, the player's line, the chords."""

from __future__ import annotations

from dataclasses import replace

from jam import log
from jam.core.conversation import Conversation
from jam.core.form import Form
from jam.core.moment import Moment, Out
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.events import BAND, PLAYER, Message, NoteOff, NoteOn, Port
from jam.listening.chord_tracker import ChordTracker
from jam.listening.hands import Hands
from jam.listening.who import HeardPart, WhoPlays
from jam.players.channels import DRUMS


class Hearing:
    """Sorts notes into line and comping, and names the chords when no chart does."""

    def __init__(self, setup: Setup, form: Form, harmony: Harmony, talk: Conversation) -> None:
        self._who = WhoPlays(setup.split)
        self._hands = Hands() if setup.split.kind == "off" else None
        self._split = setup.split
        self._key = setup.key
        self._form = form
        self._tracker = ChordTracker(setup.key, form.bars)
        self._keys: dict[tuple[Port, int], tuple[HeardPart, int]] = {}
        self._harmony = harmony
        self._talk = talk

    @property
    def due_sec(self) -> float | None:
        """Return when fresh onsets will have gathered; None when nothing waits."""
        dues = [self._hands.due_sec if self._hands is not None else None]
        if self._harmony.by_ear:
            dues.append(self._tracker.due_sec)
        return min((due for due in dues if due is not None), default=None)

    def part_of(self, message: Message) -> HeardPart | None:
        """Return whose note it is, None while that is open or where it is nobody's; asked once a
        message, in order."""
        if not isinstance(message, NoteOn | NoteOff) or message.port not in (PLAYER, BAND):
            return None
        if self._is_open(message):
            return None
        port, channel, pitch = message.port, message.channel, message.pitch
        if isinstance(message, NoteOn):
            return self._who.note_on(port, channel, pitch)
        return self._who.note_off(port, channel, pitch)

    def take(self, message: Message, part: HeardPart | None, m: Moment, out: Out) -> None:
        """Take a note; anything else is no business of the ear's."""
        if not isinstance(message, NoteOn | NoteOff):
            return
        velocity = message.velocity if isinstance(message, NoteOn) else 0
        if self._hands is not None and self._is_open(message):
            self._hands.stroke(message.channel, message.pitch, velocity, message.t)
            if velocity:
                self._talk.key_down(m, out)
        elif part == "band" and message.channel == DRUMS:
            return
        elif part is not None:
            self._keep(message.port, part, message.pitch, velocity)
            self._hear(part, message.t, message.pitch, velocity, m, out)

    def _is_open(self, message: NoteOn | NoteOff) -> bool:
        """Tell whether only time will tell the part: one keyboard, no split, no channel named."""
        told = self._split.part_on(message.channel)
        return self._hands is not None and message.port == PLAYER and told is None

    def gather(self, t: float, m: Moment, out: Out) -> None:
        """Look at the onsets that have gathered by second ``t``."""
        if self._hands is not None:
            for stroke in self._hands.settled(t):
                self._keep(PLAYER, stroke.part, stroke.pitch, stroke.velocity)
                self._hear(stroke.part, stroke.t, stroke.pitch, stroke.velocity, m, out)
        self._name(t, m, out)

    def mark(self, m: Moment, out: Out) -> None:
        """Look again at a mark: notes have decayed, a frame has ended."""
        self._name(m.time.sec(m.beat), m, out)

    def release_all(self, t: float, beat: float, port: Port | None = None) -> None:
        """Take all keys for released (panic), or those of a port that was lost."""
        self._who.forget(port)
        if self._hands is not None and port in (None, PLAYER):
            self._hands.forget()
        gone = [key for key in self._keys if port in (None, key[0])]
        for key in gone:
            part, _ = self._keys.pop(key)
            if part == "line":
                self._talk.note_off(key[1], t, beat)
            else:
                self._tracker.note_off(key[1], t, beat)

    def jump(self, m: Moment, out: Out) -> None:
        """Go on from ``m.beat``: the ear begins anew, with the chord that holds and the keys that
        are down."""
        if self._hands is not None:
            self._hands.forget()
        self._tracker = ChordTracker(self._key, self._form.bars)
        t = m.time.sec(m.beat)
        for (_, pitch), (part, velocity) in self._keys.items():
            if part != "line":
                self._tracker.note_on(pitch, velocity, t, m.beat)
        held = self._harmony.jump(m.beat)
        if held is not None:
            out.records.append(
                log.chord(t, m.now, held.beat, held.chord.symbol, "heard", held.confidence)
            )

    def _keep(self, port: Port, part: HeardPart, pitch: int, velocity: int) -> None:
        """Remember which keys are down, and by which port."""
        if velocity:
            self._keys[port, pitch] = part, velocity
        else:
            self._keys.pop((port, pitch), None)

    def _hear(
        self, part: HeardPart, t: float, pitch: int, velocity: int, m: Moment, out: Out
    ) -> None:
        beat = m.time.beat(t)
        if part == "line":
            if velocity:
                self._talk.note_on(pitch, velocity, t, beat, m, out)
            else:
                self._talk.note_off(pitch, t, beat)
        elif velocity:
            self._tracker.note_on(pitch, velocity, t, beat)
            self._name(t, m, out)
        else:
            self._tracker.note_off(pitch, t, beat)

    def _name(self, t: float, m: Moment, out: Out) -> None:
        if not self._harmony.by_ear:
            return
        heard = self._tracker.update(t, m.time.beat(t))
        if heard is None:
            return
        change = self._harmony.hear(max(m.beat, heard.beat), heard.chord, heard.confidence)
        out.records.append(
            log.chord(
                m.time.sec(change.beat), m.now, change.beat, heard.chord.symbol, "heard",
                heard.confidence,
            )
        )  # fmt: skip
        self._talk.chord_changed(replace(m, beat=max(m.beat, change.beat)), out)
