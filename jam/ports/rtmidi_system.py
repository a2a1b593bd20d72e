"""MIDI through RtMidi: ALSA, JACK, CoreMIDI and Windows MM, by whichever binding there is.

Ports are polled, never called back from. The objects that list the ports are made once and kept,
since each is a client of the system. A port that goes is not noticed by RtMidi: whoever holds it
sees its name missing in the lists. A JACK server that goes is noticed here (`jam.ports.jack_life`):
then nothing is listed, every open port raises PortError, and a new server is looked for.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from time import perf_counter, sleep
from typing import TypeVar

from jam.errors import PortError
from jam.ports.bindings import Binding, Raw, RawIn, RawOut
from jam.ports.jack_life import PORT, JackLife
from jam.ports.midi import MidiInput, MidiOutput
from jam.ports.quiet import quiet
from jam.ports.rtmidi_ports import RtMidiInput, RtMidiOutput, abandon, discard, gone, reason
from jam.ports.stamps import Stamps

RETRY_SEC = 2.0
"""How often a JACK server that was lost is looked for."""

SETTLING_SEC = 0.02
"""A fresh connection of JACK's carries messages from the next period on; what was sent before is
lost (seen)."""

R = TypeVar("R", bound=Raw)
T = TypeVar("T")

WATCH = "-watch"
"""Ends the names of the clients that list; on JACK they also have ports, which nobody is shown."""

_WATCH = re.compile(rf"{WATCH}(-\d+)?:{PORT}$")
_LISTINGS = 3
_WINDOWS = "Windows MM"
_BUSY = "Another program may hold it: close that one."


class RtMidiSystem:
    """``name`` is one of `jam.ports.bindings.CONSTANTS`, ``client`` what others see us as."""

    def __init__(
        self,
        binding: Binding,
        name: str,
        client: str,
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        self.name = name
        self.has_virtual = name != _WINDOWS
        self._binding = binding
        self._client = client
        self._clock = clock
        self._own_heard: Counter[str] = Counter()
        self._own_played: Counter[str] = Counter()
        self._ins: RawIn | None = None
        self._outs: RawOut | None = None
        self._life: JackLife | None = None
        self._clients: list[Raw] = []
        self._tried = clock()
        self._start()

    # --- what is there -------------------------------------------------------------------

    def inputs(self) -> list[str]:
        """Return the names of the ports we can hear, without those that we made."""
        return self._others(self._ins, self._own_heard) if self._is_there() else []

    def outputs(self) -> list[str]:
        """Return the names of the ports we can send to, without those that we made."""
        return self._others(self._outs, self._own_played) if self._is_there() else []

    def close(self) -> None:
        """Close the listing objects."""
        listing = [raw for raw in (self._outs, self._ins) if raw is not None]
        if self._life is not None and self._life.lost:
            for raw in (*listing, *self._clients):
                abandon(raw)
            self._clients.clear()
        else:
            for raw in listing:
                discard(raw)
        self._ins = self._outs = None

    # --- opening -------------------------------------------------------------------------

    def open_input(self, name: str) -> MidiInput:
        """Listen to the port of exactly that name."""
        return self._input(name, self._number(self._ins, name, "input"))

    def open_output(self, name: str) -> MidiOutput:
        """Send to the port of exactly that name."""
        output = self._output(name, self._number(self._outs, name, "output"))
        if self.name == "JACK":
            sleep(SETTLING_SEC)
        return output

    def virtual_input(self, name: str) -> MidiInput:
        """Make a port of our own that others send to."""
        self._refuse_virtual()
        return self._input(name, None)

    def virtual_output(self, name: str) -> MidiOutput:
        """Make a port of our own that others listen to."""
        self._refuse_virtual()
        return self._output(name, None)

    def _input(self, name: str, number: int | None) -> MidiInput:
        make = partial(self._binding.make_in, self.name)
        raw, name, forget = self._open(make, name, number, "in")
        stamps = Stamps(trust=self.name != "CoreMIDI")
        return RtMidiInput(name, raw, self._life, forget, stamps, self._clock)

    def _output(self, name: str, number: int | None) -> MidiOutput:
        make = partial(self._binding.make_out, self.name)
        raw, name, forget = self._open(make, name, number, "out")
        return RtMidiOutput(name, raw, self._life, forget)

    def _open(
        self, make: Callable[[str], R], name: str, number: int | None, side: str
    ) -> tuple[R, str, Callable[[], None]]:
        """Open port ``number``, or one of our own, and hide what that shows to others.

        Return the port, the name under which it is listed, and what to call when it is closed.
        """
        if not self._is_there():
            raise gone(name)
        heard, played = self._listed(self._ins), self._listed(self._outs)
        with quiet():
            raw = self._try(name, lambda: make(self._client))
            try:
                if number is None:
                    self._try(name, lambda: raw.open_virtual_port(name))
                else:
                    self._try(name, lambda: raw.open_port(number, side))
            except PortError:
                discard(raw)
                raise
        word = name if number is None else side
        new_heard = _new(heard, self._listed(self._ins), word)
        new_played = _new(played, self._listed(self._outs), word)
        self._own_heard += new_heard
        self._own_played += new_played

        self._clients.append(raw)

        def forget() -> None:
            self._clients.remove(raw)
            self._own_heard -= new_heard
            self._own_played -= new_played

        shown = next(iter(new_heard + new_played), name) if number is None else name
        return raw, shown, forget

    def _number(self, raw: Raw | None, name: str, what: str) -> int:
        shown = self._shown(raw) if self._is_there() else []
        if name not in shown:
            listed = ", ".join(self.inputs() if what == "input" else self.outputs()) or "none"
            raise PortError(f'there is no MIDI {what} "{name}"', f"There are: {listed}.")
        return shown.index(name)

    def _refuse_virtual(self) -> None:
        if not self.has_virtual:
            mend = "Install a loop-back MIDI driver and name its port."
            raise PortError(f"{self.name} has no ports of a program's own", mend)

    @staticmethod
    def _try(name: str, do: Callable[[], T]) -> T:
        try:
            return do()
        except Exception as error:
            raise PortError(f'"{name}" cannot be opened: {reason(error)}', _BUSY) from None

    # --- listing -------------------------------------------------------------------------

    def _others(self, raw: Raw | None, own: Counter[str]) -> list[str]:
        hidden = own.copy()
        names = []
        for name in self._shown(raw):
            if hidden[name] > 0:
                hidden[name] -= 1
            elif not _WATCH.search(name):
                names.append(name)
        return names

    def _shown(self, raw: Raw | None) -> list[str]:
        """Return all names; on Windows without the numbers that RtMidi adds, unless needed."""
        names = self._listed(raw)
        if self.name != _WINDOWS:
            return names
        bare = [name.removesuffix(f" {i}") for i, name in enumerate(names)]
        return [b if bare.count(b) == 1 else name for b, name in zip(bare, names, strict=True)]

    @staticmethod
    def _listed(raw: Raw | None) -> list[str]:
        """Return all names in the system's order. One may go while we list: then list again."""
        if raw is None:
            return []
        for _ in range(_LISTINGS):
            try:
                return [name or "" for name in raw.get_ports()]
            except Exception:
                continue
        return []

    # --- the system itself ---------------------------------------------------------------

    def _start(self) -> None:
        with quiet():
            try:
                self._ins = self._binding.make_in(self.name, f"{self._client}{WATCH}")
                self._outs = self._binding.make_out(self.name, f"{self._client}{WATCH}")
                self._ins.get_ports()
                self._life = self._new_life(self._ins, self._outs) if self.name == "JACK" else None
            except Exception as error:
                self.close()
                raise PortError(f"{self.name}: {reason(error)}") from None

    def _new_life(self, ears: RawIn, mouth: RawOut) -> JackLife:
        before = mouth.get_ports()
        ears.open_virtual_port(PORT)
        ear = next(iter(_new(before, mouth.get_ports(), PORT)))
        mouth.open_port(mouth.get_ports().index(ear), PORT)
        return JackLife(ears, mouth, self._clock)

    def _is_there(self) -> bool:
        if self._life is None:
            return self._ins is not None
        if self._life.look():
            return True
        now = self._clock()
        if self._ins is not None:
            self.close()
            self._tried = now
        elif now >= self._tried + RETRY_SEC:
            self._tried = now
            self._restart()
        return self._ins is not None

    def _restart(self) -> None:
        """Look for a new JACK server."""
        try:
            self._start()
        except PortError:
            return


def _new(before: Sequence[str], after: Sequence[str], word: str) -> Counter[str]:
    """Return the names that have come since and contain ``word``."""
    come = Counter(after) - Counter(before)
    return Counter({name: count for name, count in come.items() if word in name})
