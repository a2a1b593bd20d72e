"""Records JACK audio outputs into a file, in a process of its own: jack_rec of the JACK package."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Sequence
from pathlib import Path

from .onsets import Frames, read_wav
from .server import LOOK_SEC, connections, end, environment, ports, until


class Recorder:
    """Records from when it is made until `stop`, at most for ``longest_sec``.

    It leaves out frames when the machine stalls, as any client does: judge short distances.
    """

    def __init__(self, outputs: Sequence[str], path: Path, longest_sec: int = 60) -> None:
        self.path = path
        self.process = subprocess.Popen(
            ["jack_rec", "-f", str(path), "-d", str(longest_sec), "-b", "24", *outputs],
            env=environment(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        until(lambda: self._connected(outputs), 5.0, "the recorder to be connected", LOOK_SEC)

    def _connected(self, outputs: Sequence[str]) -> bool:
        heard = {
            a if b.startswith("jackrec") else b for a, b in connections() if "jackrec" in a + b
        }
        return heard >= set(outputs)

    def stop(self) -> Frames:
        """End the recording; return ``(frames, channels)``."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(5.0)
        end(self.process)
        return read_wav(self.path)[0]


def audio_outputs() -> list[str]:
    """Return the audio outputs that are no part of the server, in the order of their making."""
    found = []
    name = ""
    kind: dict[str, str] = {}
    for row in ports("-t", "-p"):
        if not row.startswith(("\t", "   ")):
            name = row
        else:
            kind[name] = kind.get(name, "") + row
    for port, words in kind.items():
        if "audio" in words and "output" in words and not port.startswith("system:"):
            found.append(port)
    return found
