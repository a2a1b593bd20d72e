"""Where idioms are found: ``styles/idioms/NAME.json``, the user's own before the built-in ones.

They are read once, before anything is played.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Final

from jam.errors import InputError
from jam.idiom.model import Idiom
from jam.idiom.plain import plain_idiom
from jam.idiom.text import read_idiom
from jam.session.resources import STYLES, Entry, Found, find_style, listed, looked_up, read_text
from jam.styles.profile import Style
from jam.yaml_text import load_marked

IDIOMS: Final = STYLES / "idioms"
SUFFIXES: Final = (".json",)
PLAIN: Final = "plain"
MOST_BYTES: Final = 20_000_000
"""A million notes and more."""


def list_idioms(home: Path | None = None) -> list[Entry]:
    """Return all learnt idioms by name; one of the user's own hides a built-in one."""
    return listed(IDIOMS, SUFFIXES, home)


def find_idiom(name_or_path: str, home: Path | None = None) -> Found[Idiom]:
    """Return the idiom of that name, or in that file; raises InputError."""
    if name_or_path == PLAIN:
        return Found(Entry(PLAIN, Path(PLAIN), "built in"), plain_idiom())
    try:
        entry = looked_up("idiom", name_or_path, list_idioms(home), SUFFIXES)
    except InputError as error:
        mend = error.mend.replace("`jam idioms`", "`jam idiom`")
        raise InputError(error.source, error.problem, mend) from None
    return Found(entry, read_file(entry.path))


def idioms_of(styles: Iterable[Found[Style]], home: Path | None = None) -> dict[str, Idiom]:
    """Return the idioms that ``styles`` name, by their names.

    Raises InputError for one that cannot be used, with the place in the style's file.
    """
    found: dict[str, Idiom] = {}
    for style in styles:
        name = style.value.idiom.name
        if name not in found:
            found[name] = _named_in(style.entry.path, name, home)
    return found


def find_usable_style(name_or_path: str, home: Path | None = None) -> Found[Style]:
    """Return the style of that name, or in that file, with which a session could be played: its
    idiom is there too; raises InputError."""
    found = find_style(name_or_path, home)
    idioms_of([found], home)
    return found


def _named_in(path: Path, name: str, home: Path | None) -> Idiom:
    try:
        return find_idiom(name, home).value
    except InputError as error:
        _, lines = load_marked(read_text(path), str(path))
        line = lines.get(("idiom", "name"), lines.get(("idiom",)))
        problem = f"found {name!r}: {error.problem}"
        if error.line is not None or error.field:
            problem = f"found {name!r}: {error.source} cannot be used: {error.problem}"
        raise InputError(str(path), problem, error.mend, line, "idiom.name") from None


def read_file(path: Path) -> Idiom:
    """Return the idiom in a file; the same text is the same idiom, wherever it lies."""
    text = read_long_text(path)
    try:
        return _read(text)
    except InputError as error:
        raise replace(error, source=str(path)) from None


@lru_cache(maxsize=16)
def _read(text: str) -> Idiom:
    return read_idiom(text, "")


def read_long_text(path: Path) -> str:
    """Return the text of an idiom's file, which may be longer than other texts of ours."""
    return read_text(path, MOST_BYTES)
