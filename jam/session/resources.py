"""Where styles, charts and the configuration are found.

Two places, of the same shape (``styles/``, ``config/charts/``, ``config/jam.yaml``): the user's
own folder first, then what came with the program (``jam/data`` in an installed wheel, the top of
the repository in an editable install). A file of the user's own takes the place of a built-in one
of the same name.

The user's folder is the option ``--home``, else the environment variable ``JAM_HOME``, else the
usual data folder of the system.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from errno import ENOENT
from pathlib import Path
from typing import Any, Final, Generic, Literal, TypeVar

from jam.charts.model import Chart
from jam.errors import InputError
from jam.session.clashes import Learnt
from jam.session.config import Config, load_config
from jam.session.learnt import load_learnt
from jam.styles.loader import Finder, RecipeFinder, load_style
from jam.styles.profile import Style
from jam.styles.recipe_text import LineRecipe, load_recipe
from jam.yaml_text import load_marked

HOME_VARIABLE: Final = "JAM_HOME"
STYLES: Final = Path("styles")
RECIPES: Final = STYLES / "recipes"
CHARTS: Final = Path("config", "charts")
CONFIG: Final = Path("config", "jam.yaml")
CUES: Final = Path("config", "cues.yaml")
YAML_SUFFIXES: Final = (".yaml", ".yml")
MUSICXML_SUFFIXES: Final = (".musicxml", ".xml", ".mxl")
MAX_TEXT_BYTES: Final = 1_000_000
MAX_BESIDE_BYTES: Final = 20_000_000

Origin = Literal["built in", "your own", "file"]
ValueT = TypeVar("ValueT")


@dataclass(frozen=True, slots=True)
class Entry:
    """A file that can be asked for by ``name``."""

    name: str
    path: Path
    origin: Origin


@dataclass(frozen=True, slots=True)
class Found(Generic[ValueT]):
    """What was found and read: ``entry`` says where it lies."""

    entry: Entry
    value: ValueT


def home_folder(home: Path | None = None) -> Path:
    """Return the user's own folder, which need not exist; ``home`` is the option if given."""
    if home is not None:
        return home.expanduser()
    if named := os.environ.get(HOME_VARIABLE):
        return Path(named).expanduser()
    import platformdirs  # noqa: PLC0415 (10 ms that most commands can do without)

    return Path(platformdirs.user_data_dir("phrase-turns", appauthor=False))


def data_folder() -> Path:
    """Return the folder with what came with the program."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "data"
    return inside if inside.is_dir() else package.parent


def list_styles(home: Path | None = None) -> list[Entry]:
    """Return all styles by name; one of the user's own hides a built-in one."""
    return listed(STYLES, YAML_SUFFIXES, home)


def list_charts(home: Path | None = None) -> list[Entry]:
    """Return all charts by name; one of the user's own hides a built-in one."""
    return listed(CHARTS, YAML_SUFFIXES + MUSICXML_SUFFIXES, home)


def find_style(name_or_path: str, home: Path | None = None) -> Found[Style]:
    """Return the style of that name, or in that file; raises InputError."""
    entry = looked_up("style", name_or_path, list_styles(home), YAML_SUFFIXES)
    text, source = read_text(entry.path), str(entry.path)
    style = load_style(text, source, style_finder(home), recipe_finder(home))
    check_style_name(style, text, entry.path, home)
    return Found(entry, style)


def check_style_name(style: Style, text: str, path: Path, home: Path | None = None) -> None:
    """Raise InputError for a style that lies among those found by name, but under another name."""
    libraries = {(folder / STYLES).resolve() for folder in (home_folder(home), data_folder())}
    if path.parent.resolve() not in libraries or _plain_name(style.name) == _plain_name(path.stem):
        return
    _, lines = load_marked(text, str(path))
    problem = f"found {style.name!r}, in a file that is found as {path.stem!r}"
    mend = f"Write `name: {path.stem}`, or give the file that name"
    raise InputError(str(path), problem, mend, lines.get(("name",)), "name")


def list_recipes(home: Path | None = None) -> list[Entry]:
    """Return all phrase recipes by name; one of the user's own hides a built-in one."""
    return listed(RECIPES, YAML_SUFFIXES, home)


def find_recipe(name_or_path: str, home: Path | None = None) -> Found[LineRecipe]:
    """Return the phrase recipe of that name, or in that file; raises InputError."""
    entry = looked_up("recipe", name_or_path, list_recipes(home), YAML_SUFFIXES)
    return Found(entry, load_recipe(read_text(entry.path), str(entry.path)))


def recipe_finder(home: Path | None = None) -> RecipeFinder:
    """Return what finds a phrase recipe that a style names."""
    return lambda name: find_recipe(name, home).value


def style_finder(home: Path | None = None) -> Finder:
    """Return what finds a style that another one is based on: one in the same folder first, then
    those of the user's own, then the built-in ones, but never the style that asks."""

    def find(name: str, asking: str) -> tuple[str, str]:
        near = _list_in(Path(asking).parent, YAML_SUFFIXES, "file")
        own = _list_in(home_folder(home) / STYLES, YAML_SUFFIXES, "your own")
        built_in = _list_in(data_folder() / STYLES, YAML_SUFFIXES, "built in")
        others = [e for e in (*built_in, *own, *near) if e.path.resolve() != Path(asking).resolve()]
        known = {_plain_name(entry.name): entry for entry in others}
        path = _known("style", name, known).path
        return read_text(path), str(path)

    return find


def find_chart(name_or_path: str, home: Path | None = None) -> Found[Chart]:
    """Return the chart of that name, or in that file (YAML or MusicXML); raises InputError."""
    suffixes = YAML_SUFFIXES + MUSICXML_SUFFIXES
    entry = looked_up("chart", name_or_path, list_charts(home), suffixes)
    return Found(entry, read_chart(entry.path))


def find_config(path: Path | None = None, home: Path | None = None) -> Found[Config]:
    """Return the configuration in ``path``, else the user's own, else the built-in one.

    The set-ups that came along are part of each; cues that were learnt go before those of the
    user's own and of the built-in one.
    """
    shipped = data_folder() / CONFIG
    if path is not None:
        entry = Entry(path.stem, path, "file")
    elif (own := home_folder(home) / CONFIG).is_file():
        entry = Entry(CONFIG.stem, own, "your own")
    else:
        entry = Entry(CONFIG.stem, shipped, "built in")
    text = read_text(entry.path)
    learnt = find_learnt(home) if path is None else None
    setups = None if entry.path == shipped else _shipped_setups(shipped)
    return Found(entry, load_config(text, str(entry.path), setups=setups, learnt=learnt))


def find_learnt(home: Path | None = None) -> Learnt | None:
    """Return the cues that were learnt by pressing them, None if there are none."""
    path = home_folder(home) / CUES
    return load_learnt(read_text(path), str(path)) if path.is_file() else None


def _shipped_setups(path: Path) -> dict[str, Any]:
    return load_config(read_text(path), str(path)).setups


def asked_style(name: str | None, config: Found[Config], home: Path | None = None) -> Found[Style]:
    """Return the style asked for, else the one that the configuration names.

    Raises InputError; for the configuration's with its line there.
    """
    if name is not None:
        return find_style(name, home)
    try:
        return find_style(config.value.style, home)
    except InputError as error:
        path = config.entry.path
        _, lines = load_marked(read_text(path), str(path))
        problem = f"{error.source}: {error.problem}"
        raise InputError(str(path), problem, error.mend, lines.get(("style",)), "style") from None


def read_chart(path: Path) -> Chart:
    """Return the chart in a YAML or MusicXML file, told apart by the name's ending."""
    if path.suffix.lower() in MUSICXML_SUFFIXES:
        from jam.session.musicxml import read_musicxml  # noqa: PLC0415 (starts music21)

        return read_musicxml(path)
    from jam.charts.loader import load_chart  # noqa: PLC0415 (harmony tables)

    return load_chart(read_text(path), str(path), beside(path))


def beside(path: Path) -> Callable[[str], bytes]:
    """Return what reads a file that lies in the same folder as ``path``, by its plain name."""

    def read(name: str) -> bytes:
        other = path.parent / name
        if other.parent != path.parent or not other.is_file():
            raise FileNotFoundError(ENOENT, "no such file beside the chart")
        with other.open("rb") as stream:
            return stream.read(MAX_BESIDE_BYTES)

    return read


def read_text(path: Path, most_bytes: int = MAX_TEXT_BYTES) -> str:
    """Return the text of a file of ours; anything that is not a short text is an InputError."""
    data = _read_bytes(path, most_bytes)
    if len(data) > most_bytes:
        size = "a megabyte" if most_bytes == MAX_TEXT_BYTES else f"{most_bytes // 1_000_000} MB"
        raise InputError(str(path), f"it is larger than {size}", "Name a text file of ours.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(str(path), "this is no UTF-8 text", "Save it as UTF-8.", line) from None


def _read_bytes(path: Path, most_bytes: int) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(most_bytes + 1)
    except FileNotFoundError:
        raise InputError(str(path), "there is no such file", "Check the name.") from None
    except IsADirectoryError:
        raise InputError(str(path), "this is a folder", "Name a file in it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        mend = "Check the name and whether you may read it."
        raise InputError(str(path), f"it cannot be read ({reason})", mend) from None


def listed(folder: Path, suffixes: tuple[str, ...], home: Path | None) -> list[Entry]:
    """Return the files of one kind by name; one of the user's own hides a built-in one."""
    entries = _list_in(data_folder() / folder, suffixes, "built in")
    entries += _list_in(home_folder(home) / folder, suffixes, "your own")
    by_name = {_plain_name(entry.name): entry for entry in entries}
    return [by_name[name] for name in sorted(by_name)]


def _list_in(folder: Path, suffixes: tuple[str, ...], origin: Origin) -> list[Entry]:
    paths = [path for path in _files(folder) if path.suffix.lower() in suffixes]
    return [Entry(path.stem, path, origin) for path in paths]


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_file())
    except OSError:
        return []


def looked_up(kind: str, text: str, entries: list[Entry], suffixes: tuple[str, ...]) -> Entry:
    """Return the entry of that name, or the file at that path; raises InputError."""
    path = Path(text).expanduser()
    if path.suffix.lower() in suffixes or "/" in text or "\\" in text:
        return Entry(path.stem, path, "file")
    return _known(kind, text, {_plain_name(entry.name): entry for entry in entries})


def _known(kind: str, text: str, known: Mapping[str, Entry]) -> Entry:
    wanted = _plain_name(text)
    if wanted in known:
        return known[wanted]
    near = get_close_matches(wanted, known, n=1)
    mend = f"Did you mean `{known[near[0]].name}`? " if near else ""
    command = "recipe" if kind == "recipe" else f"{kind}s"
    raise InputError(f"{kind} {text}", "not known", f"{mend}`jam {command}` lists all there are")


def _plain_name(text: str) -> str:
    """Let ``Late Bus``, ``late_bus`` and ``late-bus`` be one name."""
    return text.strip().lower().replace("_", "-").replace(" ", "-")
