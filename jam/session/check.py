"""What a file is, and whether it is good: reads it just as a session would.

YAML files are told apart by their keys (style, recipe, chart or configuration), texts of beats and
of changes by their second column, all others by the ending of their name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from jam.charts.loader import load_chart
from jam.charts.model import Chart
from jam.charts.shape import ChartShape
from jam.errors import InputError
from jam.session.config import Config
from jam.session.drill_notes import notes_on_recipe
from jam.session.idioms import idioms_of, read_file
from jam.session.midi_file import read_midi
from jam.session.plan_time import metre_of_file
from jam.session.resources import (
    MUSICXML_SUFFIXES,
    YAML_SUFFIXES,
    Entry,
    Found,
    asked_style,
    beside,
    check_style_name,
    find_config,
    read_chart,
    read_text,
    recipe_finder,
    style_finder,
)
from jam.session.time_files import read_beats, read_changes
from jam.styles.loader import load_style
from jam.styles.profile import Style
from jam.styles.recipe_text import LineRecipe, load_recipe
from jam.yaml_text import load_marked

IDIOM_SUFFIXES = (".json",)
MIDI_SUFFIXES = (".mid", ".midi", ".smf")
TEXT_SUFFIXES = ("", ".txt", ".beats", ".changes", ".tsv", ".lab")


def check_file(path: Path) -> str:
    """Return in a few words what ``path`` holds; raises InputError if it cannot be used."""
    suffix = path.suffix.lower()
    if suffix in YAML_SUFFIXES:
        return _yaml(path)
    if suffix in MUSICXML_SUFFIXES:
        return f"MusicXML, {_chart(read_chart(path))}"
    if suffix in IDIOM_SUFFIXES:
        return f"idiom {read_file(path).name!r}"
    if suffix in MIDI_SUFFIXES:
        return _midi(path)
    if suffix in TEXT_SUFFIXES:
        return _times(path)
    mend = "Name a .yaml, .musicxml, .mxl, .mid, .json or .txt file."
    raise InputError(str(path), f"files that end in {suffix} are not read here", mend)


def _yaml(path: Path) -> str:
    text, source = read_text(path), str(path)
    data, _ = load_marked(text, source)
    keys = {str(key) for key in data} if isinstance(data, dict) else set()
    kinds: Mapping[str, tuple[set[str], Callable[[], str]]] = {
        "chart": (
            set(ChartShape.model_fields),
            lambda: _chart(load_chart(text, source, beside(path))),
        ),
        "style": (
            set(Style.model_fields),
            lambda: _style_words(path, text),
        ),
        "recipe": (
            set(LineRecipe.model_fields),
            lambda: _recipe(load_recipe(text, source)),
        ),
        "configuration": (
            set(Config.model_fields),
            lambda: _configuration(path),
        ),
    }
    known = {kind: len(keys & fields) for kind, (fields, _) in kinds.items()}
    likely = max(known, key=lambda kind: known[kind])
    if not known[likely]:
        found = "no key in it is one of a chart, a style, a recipe or a configuration"
        raise InputError(source, found, "Compare it with one of those that came along")
    return kinds[likely][1]()


def _style_words(path: Path, text: str) -> str:
    style = load_style(text, str(path), style_finder(), recipe_finder())
    check_style_name(style, text, path)
    idioms_of([Found(Entry(path.stem, path, "file"), style)])
    return f"reply style {style.name!r}"


def _recipe(recipe: LineRecipe) -> str:
    notes = [f"{note[0].lower()}{note[1:].rstrip('.')}" for note in notes_on_recipe(recipe)]
    return "; ".join([f"phrase recipe {recipe.name!r}", *notes])


def _chart(chart: Chart) -> str:
    return f"chart {chart.title!r}, {len(chart.chorus.bars)} bars in {chart.metre}"


def _configuration(path: Path) -> str:
    found = find_config(path)
    asked_style(None, found)
    config = found.value
    return f"configuration with {len(config.cues)} cues"


def _times(path: Path) -> str:
    text, source = read_text(path), str(path)
    rows = [line.split() for line in text.splitlines()]
    second = next((row[1] for row in rows if len(row) > 1 and not row[0].startswith("#")), "")
    if second.isdigit():
        return f"{len(read_beats(text, source))} beats in time"
    return f"{len(read_changes(text, source))} changes in time"


def _midi(path: Path) -> str:
    data = read_midi(path)
    metre_of_file(data)
    named = [name for name in data.track_names if name]
    tracks = f" with tracks {', '.join(named)}" if named else ""
    minutes, seconds = divmod(round(data.length_sec), 60)
    return f"MIDI file of {minutes}:{seconds:02} minutes{tracks}"
