"""Writes down every MIDI message that comes into JACK inputs of its own: a program, not a module.

    python receiver.py NAME...

Opens the JACK MIDI port ``hall-NAME:NAME`` for each name, writes ``{"ready": [...]}``, then a
line a message, at once: ``{"at": .., "since": .., "port": .., "bytes": [..]}``. ``at`` is the
machine second (``time.perf_counter``) at which it was read, ``since`` the seconds since the message
before it on that port by the library's own stamps, which are right even when the reading is late.
Leaves at the end of its input. Who sends, and whether he lives, is nothing to it.
"""

import gc
import json
import select
import sys
from time import perf_counter

import rtmidi

POLL_SEC = 0.0005


def main(names):
    inputs = []
    for name in names:
        port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=f"hall-{name}", queue_size_limit=65536)
        port.open_virtual_port(name)
        port.ignore_types(sysex=False, timing=False, active_sense=False)
        inputs.append((name, port))
    sys.stdout.write(json.dumps({"ready": names}) + "\n")
    sys.stdout.flush()
    gc.disable()
    open_in = True
    while open_in:
        if select.select([0], [], [], POLL_SEC)[0]:
            open_in = bool(sys.stdin.buffer.raw.read(4096))
        came = []
        for name, port in inputs:
            while (got := port.get_message()) is not None:
                data, since = got
                row = {"at": perf_counter(), "since": since, "port": name, "bytes": data}
                came.append(json.dumps(row) + "\n")
        if came:
            sys.stdout.write("".join(came))
            sys.stdout.flush()
    for _, port in inputs:
        port.close_port()
        port.delete()


main(sys.argv[1:])
