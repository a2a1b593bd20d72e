"""What each key of the terminal asks for.

Space starts, or taps the tempo where the clock is tapped; while something plays it starts nothing
anew and stops nothing, for it is the key that an elbow finds. What ends a performance has to be
pressed twice within three seconds: stop, quit, and cut off, but for the cut-off that a fermata
waits for. Panic ends what sounds and goes on, so that once is enough. Letters are the first of
their words where two do not quarrel; capitals are the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from jam.core.snapshot import Snapshot
from jam.stage.terminal.keys import ESCAPE

AGAIN_SEC = 3.0
"""How long a key that has to be pressed twice waits for the second time."""

Ask = Literal["intent", "quit", "keys", "say"]


@dataclass(frozen=True)
class Key:
    """A key: its name, what is printed for it, what it asks for, and that in a few words.

    ``intent`` is the name of a cue, or ``quit`` or ``keys``, which are no business of the core's.
    ``short`` is the word for the line of keys, empty where the key does not stand there.
    """

    name: str
    shown: str
    intent: str
    words: str
    short: str = ""
    twice: bool = False


START = Key(" ", "space", "start", "start", "start")
TAP = Key(" ", "space", "tap", "tap the tempo, starts too", "tap")
FOLLOW = Key("h", "h", "follow", "follow the tempo again")

KEYS: tuple[Key, ...] = (
    START,
    Key("t", "t", "take it", "take it: the companion plays next", "take it"),
    Key("l", "l", "lay out", "lay out: the companion is silent until it is asked", "lay out"),
    Key("r", "r", "trade", "trade again, turn by turn", "trade"),
    Key("e", "e", "last time", "end: this is the last time through", "last time"),
    Key("g", "g", "tag", "tag: the last bars again"),
    Key("f", "f", "fermata", "fermata: hold the last chord"),
    Key("x", "x", "cut off", "cut off: end a fermata (anything else: twice)", twice=True),
    Key("n", "n", "next style", "next reply style"),
    Key("h", "h", "hold tempo", "hold the tempo, or follow it again"),
    Key(ESCAPE, "Esc", "panic", "panic: end every note now, and go on", "panic"),
    Key("s", "s", "stop", "stop (twice)", twice=True),
    Key("q", "q", "quit", "quit (twice while something plays)", "quit", twice=True),
    Key("?", "?", "keys", "show or hide all keys"),
)
"""All keys, in the order in which they are shown."""


_NEEDED = (" ", "t", ESCAPE, "l", "q", "e", "r")


@dataclass(frozen=True)
class Meant:
    """What a key press asks for: an intent for the core, to quit, to show the keys, or nothing but
    ``text``, which is to be told."""

    ask: Ask
    intent: str = ""
    text: str = ""


class Letters:
    """Reads key presses; ``tapped`` says that the clock takes its tempo from taps."""

    def __init__(self, *, tapped: bool = False) -> None:
        self._keys = {key.name: key for key in keys_of(tapped=tapped)}
        self._asked = ("", 0.0)

    def meant(self, name: str, now_sec: float, shown: Snapshot | None) -> Meant | None:
        """Return what the key asks for at ``now_sec`` (any steady clock), None where it is none.

        ``shown`` is the state of the session, None before there is one.
        """
        playing = shown is not None and shown.running
        key = self._keys.get(name.lower())
        asked = self._asked if now_sec - self._asked[1] <= AGAIN_SEC else ("", 0.0)
        self._asked = ("", 0.0)
        if key is None:
            return None
        if key is START and playing:
            return Meant("say", text="Playing already. s twice stops, q twice quits.")
        if key.twice and not _at_once(key, shown) and asked[0] != key.name:
            self._asked = (key.name, now_sec)
            return Meant("say", text=f"Press {key.shown} again to {key.intent}.")
        if key.intent == "quit":
            return Meant("quit")
        if key.intent == "keys":
            return Meant("keys")
        if key.intent == "hold tempo" and shown is not None and shown.holding:
            key = FOLLOW
        return Meant("intent", key.intent)


def _at_once(key: Key, shown: Snapshot | None) -> bool:
    """Tell whether once is enough: nothing plays, or a fermata waits to be cut off."""
    if shown is None or not shown.running:
        return True
    return key.intent == "cut off" and shown.ending == "fermata"


def keys_of(*, tapped: bool) -> tuple[Key, ...]:
    """Return all keys as they are where the clock is tapped, or is not."""
    return tuple(TAP if tapped and key is START else key for key in KEYS)


def key_lines(*, tapped: bool) -> Iterator[str]:
    """Yield a plain line for each key."""
    for key in keys_of(tapped=tapped):
        yield f"{key.shown:<6} {key.words}"


def key_row(width: int, *, tapped: bool, playing: bool) -> str:
    """Return the keys that are needed most in one line of at most ``width`` columns."""
    last = "? all keys"
    keys = {key.name: key for key in keys_of(tapped=tapped)}
    chosen: set[str] = set()
    room = width - len(last)
    for name in _NEEDED:
        more = len(_in_row(keys[name]))
        if more <= room and not (playing and keys[name] is START):
            chosen.add(name)
            room -= more
    return ("".join(_in_row(keys[name]) for name in keys if name in chosen) + last)[:width]


def _in_row(key: Key) -> str:
    return f"{key.shown} {key.short}   "
