"""The session folder: a log, a MIDI file, and a copy of everything that was used.

======================  ==================================================================
``session.jsonl``       the log (`jam.log`)
``session.mid``         player, companion and band with tempo map and chord markers
``chart.yaml`` ...      copies of what was used in full (see `jam.session.copies`)
``timing.jsonl``        wall-clock figures, never compared
``session.wav``         the sound, if it was asked for
``phrases.txt``         both halves as text, if it was asked for
======================  ==================================================================

A folder that already holds anything is refused, whatever it holds: an earlier session is somebody's
practice, and nothing is ever written over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from jam import log
from jam.errors import InputError

LOG = "session.jsonl"
MIDI = "session.mid"
TIMING = "timing.jsonl"
WAV = "session.wav"
PHRASES = "phrases.txt"


def new_folder(path: Path) -> Path:
    """Return ``path`` as an empty folder, made if need be; one that is not is an InputError."""
    path = path.expanduser()
    try:
        path.mkdir(parents=True, exist_ok=True)
        held = sorted(child.name for child in path.iterdir())
    except FileExistsError:
        raise InputError(str(path), "this is a file", "Name a folder.") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(
            str(path), f"the folder cannot be made ({reason})", "Name one you may write to."
        ) from None
    if held:
        what = "an earlier session" if LOG in held else f"{held[0]!r}"
        raise InputError(
            str(path),
            f"the folder already holds {what}",
            "Name a new or an empty folder: nothing is written over.",
        )
    return path


def remove_session(folder: Path) -> None:
    """Remove a session in which nothing was played: its own files, and the folder if that
    empties it."""
    names = (
        *(LOG, "style*.yaml", "idiom*.json", "config.yaml", "chart.*", "melody-*"),
        *("beats.txt", "changes.txt"),
    )
    try:
        for path in (path for name in names for path in folder.glob(name)):
            path.unlink()
        folder.rmdir()
    except OSError:
        return


@contextmanager
def log_into(folder: Path, header: log.Record) -> Iterator[log.LogWriter]:
    """Open the log of a session, its header written, and close it at the end."""
    with (folder / LOG).open("w", encoding="ascii", newline="\n") as stream:
        writer = log.LogWriter(stream)
        writer.write([header])
        yield writer


def write_timing(folder: Path, records: Iterable[log.Record]) -> None:
    """Write the wall-clock figures beside the log."""
    with (folder / TIMING).open("w", encoding="ascii", newline="\n") as stream:
        log.LogWriter(stream).write(records)


def read_session(folder: Path) -> log.Log:
    """Read the log of a session folder; raises InputError if there is none."""
    path = folder.expanduser() / LOG
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        raise InputError(
            str(folder), f"there is no {LOG} in it", "Name the folder of a session."
        ) from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(str(path), f"it cannot be read ({reason})", "Check the name.") from None
    return log.read_log(text.splitlines(keepends=True), str(path))
