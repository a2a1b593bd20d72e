"""YAML as musicians type it: read with line numbers, without YAML's traps, with kind errors.

Plain YAML 1.1 reads ``12:8`` as 728, ``010`` as 8, ``on`` as true, a bare ``#11`` as nothing and
``F #m`` as ``F``, and lets the last of two equal keys win. Here a number is a decimal number, a
boolean is ``true`` or ``false``, all else is text, and what would be lost in silence is an error.
References (``&name``, ``*name``) are refused: every value stands where it is used.

Lines count from 1. The line of a path is that of its key or list item; for a block of text
(``|`` or ``>``) it is that of the block's first line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any, Final, NoReturn, TypeVar, get_args

import yaml
from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from jam.errors import InputError

Path = tuple[str | int, ...]
Lines = Mapping[Path, int]
ModelT = TypeVar("ModelT", bound=BaseModel)

_PLAIN: Final = {
    "list_type": "Write a list, as in [3, 7, 5].",
    "too_short": "The fewest entries it may have: {min_length}.",
    "too_long": "The most entries it may have: {max_length}.",
    "bool_type": "Write true or false.",
    "bool_parsing": "Write true or false.",
    "int_type": "Write a whole number.",
    "int_parsing": "Write a whole number.",
    "int_from_float": "Write a whole number.",
    "float_type": "Write a number.",
    "float_parsing": "Write a number.",
    "finite_number": "Write a number.",
    "string_too_long": "Write {max_length} characters at most.",
}
"""What mends a mistake, by the kind that pydantic finds, where its own words are a programmer's."""

_QUOTE_HASH: Final = "After a space, # begins a comment: put the value in quotes, as in '#11'."


class _Loader(yaml.SafeLoader):
    """The safe loader with the plain words of this project: see the module's text."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        if self.check_event(yaml.AliasEvent):
            mark = self.peek_event().start_mark  # type: ignore[no-untyped-call]
            raise yaml.MarkedYAMLError(
                None, None, "a reference (*name) stands here: write the value out", mark
            )
        return super().compose_node(parent, index)


def _resolve(tag: str, pattern: str, first: str) -> None:
    _Loader.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(pattern), list(first))


_resolve("bool", r"^(?:true|false)$", "tf")
_resolve("null", r"^(?:~|null|)$", "~n")
_resolve("int", r"^[-+]?(?:0|[1-9][0-9]{0,17})$", "-+0123456789")
_resolve("float", r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?$", "-+.0123456789")
_Loader.yaml_implicit_resolvers[""] = [("tag:yaml.org,2002:null", re.compile("^$"))]


def load_marked(text: str, source: str) -> tuple[object, Lines]:
    """Return the data in ``text`` and the line of every path in it.

    ``source`` is the name to put in errors. Raises InputError for anything that is not YAML, and
    for the traps: equal keys, empty values, tabs, lost ``#``.
    """
    loader = None
    try:
        loader = _Loader(text)
        node = loader.get_single_node()
        if node is None:
            raise InputError(source, "there is nothing in it", "Write at least the required keys.")
        lines: dict[Path, int] = {}
        data = _build(node, (), _Reading(loader, source, text.splitlines(), lines))
    except yaml.YAMLError as error:
        raise _plain_words(error, source, text) from None
    except RecursionError:
        raise InputError(
            source, "lists or keys are nested too deep", "Keep to a few levels."
        ) from None
    finally:
        if loader is not None:
            loader.dispose()
    return data, lines


def validate(model: type[ModelT], text: str, source: str) -> tuple[ModelT, Lines]:
    """Return ``text`` as an instance of ``model``, and the line of every path in it.

    Raises InputError that tells the first mistake in full and the number of the others.
    """
    data, lines = load_marked(text, source)
    return validate_data(model, data, source, lines), lines


def validate_data(model: type[ModelT], data: object, source: str, lines: Lines) -> ModelT:
    """Return ``data`` as an instance of ``model``; ``lines`` must know at least the path ``()``.

    Raises InputError that tells the first mistake in full and the number of the others.
    """
    if not isinstance(data, dict):
        found = f"found {_short(data)}"
        mend = "Write keys with their values, as in `title: Lamplight`"
        raise InputError(source, found, mend, lines[()])
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise _first_mistake(error.errors(include_url=False), model, source, lines) from None


def path_text(path: Path) -> str:
    """Return ``path`` as it is shown to the user: ``sections[0].bars``."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def did_you_mean(word: str, known: list[str]) -> str:
    """Return a mend for an unknown ``word``: the nearest of ``known``, or all of them."""
    near = get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    if near:
        return f"Did you mean `{near[0]}`?"
    return "Known here: " + ", ".join(known) + "."


class _Reading:
    """What the walk through one document needs at every node."""

    def __init__(
        self, loader: _Loader, source: str, text_lines: list[str], lines: dict[Path, int]
    ) -> None:
        self.loader, self.source = loader, source
        self.text_lines, self.lines = text_lines, lines

    def fail(self, node: yaml.Node, path: Path, problem: str, mend: str) -> NoReturn:
        line = node.start_mark.line + 1
        raise InputError(self.source, problem, mend, line, path_text(path))

    def rest_of_line(self, mark: yaml.Mark) -> str:
        if mark.line >= len(self.text_lines):
            return ""
        return self.text_lines[mark.line][mark.column :]


def _build(node: yaml.Node, path: Path, reading: _Reading) -> object:
    block = isinstance(node, yaml.ScalarNode) and node.style in ("|", ">")
    reading.lines.setdefault(path, node.start_mark.line + 1)
    if block:
        reading.lines[path] = node.start_mark.line + 2
    if isinstance(node, yaml.MappingNode):
        return _build_mapping(node, path, reading)
    if isinstance(node, yaml.SequenceNode):
        return [_build_item(item, (*path, i), reading) for i, item in enumerate(node.value)]
    _check_hash(node, path, reading)
    return reading.loader.construct_object(node)


def _build_mapping(node: yaml.MappingNode, path: Path, reading: _Reading) -> dict[Any, object]:
    built: dict[Any, object] = {}
    for key_node, value_node in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            reading.fail(
                key_node, path, "a list stands as a key", "Write a single word as the key."
            )
        key = reading.loader.construct_object(key_node)
        inner = (*path, key)
        if key in built:
            before = reading.lines[inner]
            mend = f"It stands in line {before} already: keep one of the two."
            reading.fail(key_node, inner, f"the key `{key}` is there twice", mend)
        if isinstance(value_node, yaml.ScalarNode) and value_node.style is None:
            _check_empty(value_node, inner, reading)
        reading.lines[inner] = key_node.start_mark.line + 1
        built[key] = _build(value_node, inner, reading)
    return built


def _build_item(node: yaml.Node, path: Path, reading: _Reading) -> object:
    built = _build(node, path, reading)
    if built is None:
        reading.fail(node, path, "an entry of the list is empty", f"Quote it. {_QUOTE_HASH}")
    return built


def _check_empty(node: yaml.ScalarNode, path: Path, reading: _Reading) -> None:
    if node.value:
        return
    mend = "Write a value after the colon, or leave the line out."
    if reading.rest_of_line(node.start_mark).lstrip(": ").startswith("#"):
        mend = _QUOTE_HASH
    reading.fail(node, path, "there is no value", mend)


def _check_hash(node: yaml.Node, path: Path, reading: _Reading) -> None:
    """Refuse ``F #m``: a comment that touches its # is more likely a sharp that would be lost."""
    if node.style is not None or not node.value:  # type: ignore[attr-defined]
        return
    rest = reading.rest_of_line(node.end_mark)
    if re.match(r"\s*#[^\s#]", rest):
        problem = f"`{rest.strip()}` after `{node.value}` would be lost"
        reading.fail(node, path, problem, f"{_QUOTE_HASH} A comment needs a space after its #.")


def _plain_words(error: yaml.YAMLError, source: str, text: str) -> InputError:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line = None if mark is None else mark.line + 1
    problem = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error)
    lost = _lost_hash(text, line)
    if "'\\t'" in problem or _tab_indent(text, line):
        mend = "Indent with spaces."
        return InputError(source, "a tab stands where only spaces may", mend, line)
    if lost is not None:
        return InputError(source, "a list or text never ends", _QUOTE_HASH, lost)
    if "mapping values are not allowed" in problem:
        mend = "Put a text that has a colon in it into quotes."
        return InputError(source, "a second colon stands in one line", mend, line)
    if "cannot start any token" in problem:
        mend = "Put the value in quotes, or begin a block of text with | and a new line."
        return InputError(source, f"a value may not begin so ({problem})", mend, line)
    mend = "Check the indent, the quotes and the brackets of this line and the one before."
    return InputError(source, f"this is not readable as YAML ({problem})", mend, line)


def _tab_indent(text: str, line: int | None) -> bool:
    lines = text.splitlines()
    return line is not None and line <= len(lines) and bool(re.match(r" *\t", lines[line - 1]))


def _lost_hash(text: str, line: int | None) -> int | None:
    """Return the last line up to ``line`` where ``#11`` inside brackets became a comment."""
    found = None
    for number, content in enumerate(text.splitlines(), start=1):
        if line is not None and number > line:
            break
        if re.search(r"\[[^\]'\"]*\s#\w", content) or re.search(r"\[#\w", content):
            found = number
    return found


def _first_mistake(
    errors: list[ErrorDetails], model: type[BaseModel], source: str, lines: Lines
) -> InputError:
    # An unknown key is most often a misspelt one, and the cause of the missing one beside it.
    errors = sorted(errors, key=lambda e: (e["type"] != "extra_forbidden", _place(e, lines)[1]))
    error = errors[0]
    path, line = _place(error, lines)
    problem, mend = _describe(error, model)
    if len(errors) > 1:
        mend += f" (And {len(errors) - 1} more.)"
    return InputError(source, problem, mend, line, path_text(path))


def _place(error: ErrorDetails, lines: Lines) -> tuple[Path, int]:
    """Return the path shown and its line: pydantic's own steps (of a union) are cut off."""
    known: Path = ()
    for step in error["loc"]:
        known = (*known, step) if (*known, step) in lines else known
    shown = (*known, error["loc"][-1]) if error["type"] == "missing" else known
    return shown, lines[known]


def _describe(error: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    kind, loc, value = error["type"], error["loc"], error.get("input")
    if kind == "extra_forbidden":
        known = sorted(_fields_at(model, loc[:-1]))
        return f"`{loc[-1]}` is not known here", did_you_mean(str(loc[-1]), known)
    if kind == "missing":
        return "this key is missing", f"Add `{loc[-1]}: ...`."
    if kind in _PLAIN:
        return f"found {_short(value)}", _PLAIN[kind].format(**error.get("ctx", {}))
    message = error["msg"].removeprefix("Value error, ")
    message = re.sub(r"^Input should be (a valid )?", "It should be ", message)
    message = re.sub(r"\bdictionary( or instance of \w+)?", "keys with their values", message)
    if kind in ("string_type", "string_sub_type"):
        plain = isinstance(value, int | float)
        message = f"It should be text: {'put it in quotes' if plain else 'write it in one piece'}"
    mend = message if message.endswith((".", "?")) else f"{message}."
    if kind == "literal_error" and isinstance(value, str):
        choices = re.findall(r"'([^']*)'", error["msg"])
        near = get_close_matches(value.lower(), choices, n=1, cutoff=0.6)
        mend += f" Did you mean `{near[0]}`?" if near else ""
    return f"found {_short(value)}", mend


def _fields_at(model: type[BaseModel], loc: Path) -> set[str]:
    """Return the keys known at ``loc`` below ``model`` (of all models of a union)."""
    models = [model]
    for step in loc:
        if isinstance(step, str):
            inner = [m.model_fields[step].annotation for m in models if step in m.model_fields]
            models = [m for annotation in inner for m in _models_in(annotation)] or models
    return {name for m in models for name in m.model_fields}


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _short(value: object) -> str:
    text = repr(value) if isinstance(value, str | int | float) else f"a {type(value).__name__}"
    text = {"a dict": "keys and values", "a NoneType": "nothing"}.get(text, text)
    text = "an empty list" if value == [] else text
    return text if len(text) <= 60 else f"{text[:57]}..."
