"""Styles that are based on another: what does the whole of such a style say?

``based_on: NAME`` takes over all that the other style says, and what stands in the file itself
goes before it: blocks (``rhythm:``) are joined key by key, lists and single values replaced. Name
and description are never taken over. An instrument that is named replaces the other one whole.
The other style may be based on a third one, and so on, up to `MOST` styles in a chain.

Texts are found by a function that is handed in, so that nothing here touches a file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from jam.errors import InputError
from jam.styles.profile import Style
from jam.yaml_text import Lines, load_marked, validate_data

Finder = Callable[[str, str], tuple[str, str]]
"""From the name of a style, and the source that asks for it, to its text and its source.

Raises InputError when there is none.
"""

MOST = 8
"""Styles in a chain, itself included: more are a mistake sooner than a wish."""

_KEY = "based_on"
_OWN = ("name", "about", _KEY)
_CHAIN_MEND = f"Base it on a style that stands on its own: at most {MOST} in a chain."


def whole(text: str, source: str, find: Finder | None) -> tuple[Style, object]:
    """Return the style that ``text`` describes with all that it is based on, and its plain data.

    Raises InputError for anything that is no style; a mistake in a style it is based on is told
    with that one's own file and line.
    """
    return _whole(text, source, find, ())


def _whole(
    text: str, source: str, find: Finder | None, above: tuple[str, ...]
) -> tuple[Style, object]:
    data, lines = load_marked(text, source)
    if isinstance(data, dict) and isinstance(data.get(_KEY), str):
        data = _joined(data, source, lines, find, (*above, source))
    style = validate_data(Style, data, source, lines)
    return style, data


def _joined(
    data: Mapping[Any, object],
    source: str,
    lines: Lines,
    find: Finder | None,
    chain: tuple[str, ...],
) -> dict[Any, object]:
    name, line = str(data[_KEY]).strip(), lines[(_KEY,)]

    def refused(problem: str, mend: str) -> InputError:
        return InputError(source, problem, mend, line, _KEY)

    if len(chain) >= MOST:
        raise refused(f"more than {MOST} styles stand on one another here", _CHAIN_MEND)
    if find is None:
        raise refused(f"found {name!r}", "No other style is at hand here: write it out whole.")
    try:
        text, below = find(name, source)
    except InputError as error:
        raise refused(f"found {name!r}: {error.problem}", error.mend) from None
    if below in chain:
        circle = "itself" if below == source else f"{name!r}, which is based on it in turn"
        raise refused(f"it is based on {circle}", _CHAIN_MEND)
    _, under = _whole(text, below, find, chain)
    own = {key: value for key, value in data.items() if key != _KEY}
    kept = {key: value for key, value in _items(under) if key not in _OWN}
    return _merged(kept, own)


def _items(data: object) -> list[tuple[Any, object]]:
    return list(data.items()) if isinstance(data, dict) else []


def _merged(under: Mapping[Any, object], over: Mapping[Any, object]) -> dict[Any, object]:
    """Return both, ``over`` before ``under``; blocks are joined, all else is replaced."""
    both = dict(under)
    for key, value in over.items():
        below = both.get(key)
        if key == "instrument":
            below = _under_instrument(below, value)
        if isinstance(below, dict) and isinstance(value, dict):
            value = _merged(below, value)
        both[key] = value
    return both


def _under_instrument(below: object, value: object) -> object:
    """Return what of an instrument stays under ``value``: nothing where that names another."""
    if isinstance(value, dict) and "name" in value:
        return None
    return {"name": below} if isinstance(below, str) else below
