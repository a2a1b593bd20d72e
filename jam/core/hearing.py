"""The ear of the core: whose note it is, the player's line, the chords."""

from __future__ import annotations

from jam import log
from jam.core.conversation import Conversation
from jam.core.form import Form
from jam.core.moment import Moment, Out
from jam.core.setup import Setup
from jam.core.sounding import Harmony
from jam.events import Message, NoteOff, NoteOn
from jam.listening.chord_tracker import ChordTracker
from jam.listening.who import HeardPart, WhoPlays


class Hearing:
    """Sorts notes into line and comping, and names the chords when no chart does."""

    def __init__(self, setup: Setup, form: Form, harmony: Harmony, talk: Conversation) -> None:
        self._who = WhoPlays(setup.split)
        self._tracker = ChordTracker(setup.key, form.bars)
        self._harmony = harmony
        self._talk = talk

    @property
    def due_sec(self) -> float | None:
        """Return when fresh onsets will have gathered to a chord; None when nothing waits."""
        return self._tracker.due_sec if self._harmony.by_ear else None

    def part_of(self, message: Message) -> HeardPart | None:
        """Return whose note it is; asked once for each message, in order."""
        match message:
            case NoteOn(port=port, channel=channel, pitch=pitch):
                return self._who.note_on(port, channel, pitch)
            case NoteOff(port=port, channel=channel, pitch=pitch):
                return self._who.note_off(port, channel, pitch)
        return None

    def take(self, message: Message, part: HeardPart | None, m: Moment, out: Out) -> None:
        """Take a note; anything else is no business of the ear's."""
        match message, part:
            case NoteOn(t=t, pitch=pitch, velocity=velocity), "line":
                self._talk.note_on(pitch, velocity, t, m, out)
            case NoteOff(t=t, pitch=pitch), "line":
                self._talk.note_off(pitch, t, m.beat)
            case NoteOn(t=t, pitch=pitch, velocity=velocity), "band" | "comping":
                self._tracker.note_on(pitch, velocity, t, m.beat)
                self._name(t, m, out)
            case NoteOff(t=t, pitch=pitch), "band" | "comping":
                self._tracker.note_off(pitch, t, m.beat)

    def gather(self, t: float, m: Moment, out: Out) -> None:
        """Look at the onsets that have gathered by second ``t``."""
        self._name(t, m, out)

    def mark(self, m: Moment, out: Out) -> None:
        """Look again at a mark: notes have decayed, a frame has ended."""
        if self._harmony.by_ear:
            self._name(m.time.sec(m.beat), m, out)

    def release_all(self, t: float, beat: float) -> None:
        """Take all keys for released (panic, a lost port)."""
        self._who.forget()
        self._talk.line.release_all(t, beat)

    def _name(self, t: float, m: Moment, out: Out) -> None:
        if not self._harmony.by_ear:
            return
        heard = self._tracker.update(t, m.beat)
        if heard is None:
            return
        change = self._harmony.hear(m.beat, heard.chord, heard.confidence)
        out.records.append(
            log.chord(
                m.time.sec(change.beat), m.now, change.beat, heard.chord.symbol, "heard",
                heard.confidence,
            )
        )  # fmt: skip
        self._talk.chord_changed(m, out)
