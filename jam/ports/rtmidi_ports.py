"""Open ports of RtMidi: polled, never called back from, and let go of in the right way.

A port is closed, unless its JACK server is gone: then its system lets go of it (`abandon`).
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Sequence
from functools import partial
from time import sleep

from jam.errors import PortError
from jam.ports.bindings import Raw, RawIn, RawOut
from jam.ports.jack_life import JackLife
from jam.ports.midi import Stamped
from jam.ports.quiet import quiet
from jam.ports.stamps import Stamps

PARTING_SEC = 0.03
"""A dozen periods of a usual JACK server."""

_BACK = "It is taken again when it is back."


class _Port:
    """What inputs and outputs share. ``life`` is that of their JACK server, None on other systems;
    ``on_close`` is called once, when the port closes."""

    def __init__(
        self, name: str, raw: Raw, life: JackLife | None, on_close: Callable[[], None]
    ) -> None:
        self.name = name
        self._raw: Raw | None = raw
        self._life = life
        self._on_close = on_close

    @property
    def _is_gone(self) -> bool:
        return self._raw is None or (self._life is not None and self._life.lost)

    def close(self) -> None:
        """Close the port; twice is once."""
        raw, self._raw = self._raw, None
        if raw is not None and not (self._life is not None and self._life.lost):
            discard(raw)
            self._on_close()


class RtMidiInput(_Port):
    """An open input; ``stamps`` dates what comes in."""

    _raw: RawIn | None

    def __init__(
        self,
        name: str,
        raw: RawIn,
        life: JackLife | None,
        on_close: Callable[[], None],
        stamps: Stamps,
        clock: Callable[[], float],
    ) -> None:
        super().__init__(name, raw, life, on_close)
        self._stamps = stamps
        self._clock = clock
        self._since = clock()

    def poll(self) -> list[Stamped]:
        """Return what has come in since the last call; PortError if the MIDI system is gone."""
        if self._raw is None or self._is_gone:
            raise gone(self.name)
        before = self._clock()
        messages, deltas = [], []
        while (message := self._raw.get_message()) is not None:
            messages.append(tuple(message[0]))
            deltas.append(message[1])
        since, self._since = self._since, before
        if not messages:
            return []
        dates = self._stamps.date(deltas, since, self._clock())
        return [Stamped(t, data) for t, data in zip(dates, messages, strict=True)]


class RtMidiOutput(_Port):
    """An open output."""

    _raw: RawOut | None

    def send(self, data: Sequence[int]) -> None:
        """Send one whole message now; raises PortError if the port is known to be gone."""
        if self._raw is None:
            raise gone(self.name)
        if self._life is not None:
            self._life.spend()
        try:
            self._raw.send_message(data)
        except Exception as error:
            raise PortError(f'"{self.name}" takes nothing: {reason(error)}', _BACK) from None


def discard(raw: Raw) -> None:
    """Close a port and its client, whatever state they are in.

    Between the two the driver's thread is given time to be done with the port (JACK's has crashed
    in a buffer that was freed under it).
    """
    with quiet():
        for step in (raw.close_port, partial(sleep, PARTING_SEC), raw.delete):
            try:
                step()
            except Exception:
                continue


def abandon(raw: Raw) -> None:
    """Let go of a client of a JACK server that is gone, without closing it and for good.

    Closing an output would wait for a second, and closing anything after the library has met
    another server crashes (both seen with JACK 2). So it is kept alive until the process ends.
    """
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(raw))


def reason(error: BaseException) -> str:
    """Return what an exception says, in one line without a full stop."""
    return " ".join(str(error).split()).rstrip(".") or type(error).__name__


def gone(name: str) -> PortError:
    """Return the error of a port that is no more."""
    return PortError(f'the MIDI port "{name}" is gone', _BACK)
