"""Have the files of the reply styles changed? Looked at now and then while music is played.

A thread of its own looks, reads and checks, so that the live loop only picks up what came of it. A
style that is read well is news for the core; one that is broken is told in words, and the last good
one is played on. Files that a style is based on are not watched for themselves: a style that says
``based_on`` is read again whenever any of the files has changed.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue

from jam.errors import InputError
from jam.session.resources import check_style_name, read_text, recipe_finder, style_finder
from jam.styles.loader import reload
from jam.styles.profile import Style
from jam.yaml_text import load_marked

EVERY_SEC = 0.5
"""How often the files are looked at."""

_Stamp = tuple[int, int] | None
"""When a file was written (ns) and how long it is (bytes); None: it is not there."""


@dataclass(frozen=True)
class StyleNews:
    """The file of the style called ``replaces`` has changed: to ``style``, or to what is wrong
    with it, told in ``trouble`` (the style is the last good one then)."""

    replaces: str
    style: Style
    trouble: str = ""


@dataclass
class _Watched:
    path: Path
    good: Style
    read: _Stamp
    seen: _Stamp
    based: bool
    trouble: str = ""


class StyleWatch:
    """Watches ``files``, from which ``styles`` were read."""

    def __init__(
        self, styles: Iterable[Style], files: Iterable[Path], home: Path | None = None
    ) -> None:
        self._home = home
        self._find, self._recipe = style_finder(home), recipe_finder(home)
        self._watched = [
            _Watched(path, style, stamp, stamp, _is_based(path))
            for style, path in zip(styles, files, strict=True)
            for stamp in (_stamp(path),)
        ]
        named = (watched.good.idiom.name for watched in self._watched)
        self._idioms = tuple(dict.fromkeys((*named, "plain")))
        self._news: SimpleQueue[StyleNews] = SimpleQueue()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="style watch", daemon=True)

    def start(self) -> None:
        """Begin to watch."""
        self._thread.start()

    def stop(self) -> None:
        """Watch no more; waits for nothing."""
        self._over.set()

    def news(self) -> list[StyleNews]:
        """Return what has been found since the last call; never waits."""
        found = []
        while True:
            try:
                found.append(self._news.get_nowait())
            except Empty:
                return found

    def look(self) -> None:
        """Look at the files once, and read what has changed and is the same at the second look:
        an editor may still be writing."""
        settled = []
        for watched in self._watched:
            stamp = _stamp(watched.path)
            if stamp != watched.read and stamp == watched.seen:
                settled.append(watched)
            watched.seen = stamp
        for watched in settled:
            watched.read = watched.seen
            watched.based = _is_based(watched.path)
        for watched in self._watched if settled else ():
            if watched in settled or watched.based:
                self._read(watched)

    def _read(self, watched: _Watched) -> None:
        before = watched.good
        try:
            text = read_text(watched.path)
            style, trouble = reload(text, str(watched.path), before, self._find, self._recipe)
            check_style_name(style, text, watched.path, self._home)
            self._refuse_other_idiom(style, text, str(watched.path))
        except InputError as error:
            style, trouble = before, str(error)
        trouble = trouble or ""
        if style == before and trouble == watched.trouble:
            return
        watched.good, watched.trouble = style, trouble
        self._news.put(StyleNews(before.name, style, trouble))

    def _refuse_other_idiom(self, style: Style, text: str, source: str) -> None:
        """Raise InputError for an idiom that was not read when the session began: it is too big to
        be read on stage, and the session's folder holds no copy of it."""
        if style.idiom.name in self._idioms:
            return
        _, lines = load_marked(text, source)
        raise InputError(
            source,
            f"found {style.idiom.name!r}, an idiom that no style named when the session began",
            f"Use one of {', '.join(self._idioms)}, or begin `jam play` anew.",
            lines.get(("idiom", "name")),
            "idiom.name",
        )

    def _run(self) -> None:
        while not self._over.wait(EVERY_SEC):
            self.look()


def _stamp(path: Path) -> _Stamp:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _is_based(path: Path) -> bool:
    try:
        return "based_on" in read_text(path)
    except InputError:
        return False
