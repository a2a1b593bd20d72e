"""Where idioms are found: ``styles/idioms/NAME.json``, the user's own before the built-in ones.

They are read once, before anything is played.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Final

from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.idiom.text import read_idiom
from jam.session.resources import STYLES, Entry, Found, listed, looked_up, read_text
from jam.styles.profile import Style

IDIOMS: Final = STYLES / "idioms"
SUFFIXES: Final = (".json",)
PLAIN: Final = "plain"


def list_idioms(home: Path | None = None) -> list[Entry]:
    """Return all learnt idioms by name; one of the user's own hides a built-in one."""
    return listed(IDIOMS, SUFFIXES, home)


def find_idiom(name_or_path: str, home: Path | None = None) -> Found[Idiom]:
    """Return the idiom of that name, or in that file; raises InputError."""
    if name_or_path == PLAIN:
        return Found(Entry(PLAIN, Path(PLAIN), "built in"), plain_idiom())
    entry = looked_up("idiom", name_or_path, list_idioms(home), SUFFIXES)
    return Found(entry, read_file(entry.path))


def idioms_of(styles: Iterable[Style], home: Path | None = None) -> dict[str, Idiom]:
    """Return the idioms that ``styles`` name, by their names; raises InputError."""
    names = dict.fromkeys(style.idiom.name for style in styles)
    return {name: find_idiom(name, home).value for name in names}


def read_file(path: Path) -> Idiom:
    """Return the idiom in a file; an unchanged file is read once."""
    stamp = path.stat().st_mtime_ns if path.exists() else 0
    return _read(path, stamp)


@lru_cache(maxsize=16)
def _read(path: Path, stamp: int) -> Idiom:
    return read_idiom(read_text(path), str(path))
