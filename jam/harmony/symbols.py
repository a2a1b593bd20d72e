"""Chord symbols as musicians write them, read into chords.

Grammar: root, stem (family with or without an extension), alterations, then perhaps a slash and a
bass note. The stems are a table; the longest one after which the rest reads as alterations wins.
An accidental binds to the root (``Cb7`` is C flat seven), a minus after the root is minor
(``C-7``), ``6/9`` is no slash chord, ``C2`` is an added ninth, a dominant ``11`` is a suspended
ninth chord (common practice: its third is left out). German and solfège names are not read.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import lru_cache

from jam.harmony.chord import NO_CHORD, Chord, extensions_of, make_chord, suffix_of
from jam.harmony.families import FAMILIES, MODES, settled
from jam.harmony.pitch import NAME_PATTERN, SymbolError

__all__ = ["SymbolError", "known_suffixes", "parse_chord"]

_MAJOR = ("maj", "ma", "Ma", "MA", "M")
_MINOR = ("m", "min", "mi", "Mi", "MI", "-")
# Stems by family: {M} is any way to write major, {m} minor, {n} an extension (7, 9, 11, 13).
_SPELLINGS: dict[str, tuple[str, ...]] = {
    "maj": ("", "{M}", "major"),
    "maj7": ("{M}{n}", "Δ{n}", "Δ", "7M", "j{n}"),
    "maj7#5": ("+{M}{n}", "aug{M}{n}", "+Δ{n}", "+Δ"),
    "maj6": ("6", "{M}6"),
    "m": ("{m}", "minor"),
    "m7": ("{m}{n}",),
    "m6": ("{m}6",),
    "mMaj7": (
        "{m}{M}{n}",
        "{m}({M}{n})",
        "{m}/{M}{n}",
        "{m}Δ{n}",
        "{m}Δ",
        "{m}(Δ{n})",
        "{m}(Δ)",
        "{m}(#7)",
    ),
    "m7b5": ("ø{n}", "ø"),
    "dim": ("dim", "o"),
    "dim7": ("dim7", "o7"),
    "aug": ("aug", "+"),
    "7": ("{n}", "dom{n}"),
    "7#5": ("aug{n}", "+{n}"),
    "7alt": ("7alt", "alt", "7(alt)", "alt7", "7altered", "altered"),
    "7sus4": ("{n}sus4", "{n}sus"),
    "sus4": ("sus4", "sus"),
    "sus2": ("sus2",),
    "5": ("5",),
    "ionian": ("ionian", "ion"),
    "dorian": ("dorian", "dor"),
    "phrygian": ("phrygian", "phryg", "phr"),
    "lydian": ("lydian", "lyd"),
    "mixolydian": ("mixolydian", "mixolyd", "mixo", "mix"),
    "aeolian": ("aeolian", "aeol"),
    "locrian": ("locrian", "loc"),
}
# Stems that write a tension besides.
_WITH_TENSION: dict[str, tuple[str, frozenset[int]]] = {
    "2": ("maj", frozenset({2})),
    "11": ("7sus4", frozenset({2})),
    "11sus4": ("7sus4", frozenset({2})),
    "11sus": ("7sus4", frozenset({2})),
    **{f"{major}11": ("maj7", frozenset({2, 5})) for major in (*_MAJOR, "Δ")},
    **{six: ("maj6", frozenset({2})) for six in ("69", "6/9", "maj69", "maj6/9", "M69", "M6/9")},
    **{f"{minor}6{slash}9": ("m6", frozenset({2})) for minor in _MINOR for slash in ("", "/")},
}
_FIFTHS = {
    ("7", "b"): "7b5",
    ("7", "#"): "7#5",
    ("maj7", "b"): "maj7b5",
    ("maj7", "#"): "maj7#5",
    ("m7", "b"): "m7b5",
    ("m7", "#"): "m7#5",
    ("m", "b"): "dim",
    ("maj", "#"): "aug",
}
_SUSPENDED = {("maj", "4"): "sus4", ("maj", "2"): "sus2", ("7", "4"): "7sus4"}
_TENSIONS = {
    **{"b9": 1, "9": 2, "#9": 3, "11": 5, "#11": 6, "b13": 8, "13": 9},
    **{"b2": 1, "2": 2, "4": 5, "#4": 6, "b6": 8, "6": 9},
}
_ITEM = re.compile(
    r",?(?:(?P<add>add)?(?P<sign>[b#+-])?(?P<number>13|11|9|6|5|4|2)"
    r"|sus(?P<sus>[24]?)|(?P<sharp_five>\+|aug)|(?P<major_seven>maj7|M7|Δ7?))"
)
_SEGMENT = re.compile(r"\((?P<inside>[^()]*)\)|(?P<bare>[^()]+)")
_WORDS = re.compile(
    "maj|min|dim|aug|sus|add|alt|dom|"
    + "|".join(mode for family in MODES for mode in _SPELLINGS[family]),
    re.IGNORECASE,
)
_NO_CHORD = re.compile(r"N\.?C\.?|N", re.IGNORECASE)
_SIGN_AFTER_GAP = re.compile(r"[A-G](?:bb|b|##|#)?\s+[b#]")
_SYMBOL = re.compile(rf"({NAME_PATTERN})(.*?)(?:/({NAME_PATTERN}))?")
_CHARACTERS = str.maketrans(
    {
        **{"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "–": "-", "−": "-"},
        **{"∆": "Δ", "△": "Δ", "Ø": "ø", "⌀": "ø", "°": "o", "º": "o", "˚": "o"},
    }
)


def _stems() -> dict[str, tuple[str, frozenset[int]]]:
    """Expand the table of spellings: what is typed, to family and written tensions."""
    stems = dict(_WITH_TENSION)
    for family, spellings in _SPELLINGS.items():
        numbers: dict[str, set[int]] = {"7": set(), **dict(extensions_of(FAMILIES[family]))}
        for spelling in spellings:
            for number, written in numbers.items() if "{n}" in spelling else [("", set[int]())]:
                for major in _MAJOR if "{M}" in spelling else ("",):
                    for minor in _MINOR if "{m}" in spelling else ("",):
                        typed = spelling.format(n=number, M=major, m=minor)
                        stems.setdefault(typed, (family, frozenset(written)))
    return stems


_STEMS = _stems()
_LONGEST_STEM = max(map(len, _STEMS))


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> Chord:
    """Read a chord symbol. Raises SymbolError with the nearest spelling that can be read."""
    stripped = text.strip().translate(_CHARACTERS)
    if _NO_CHORD.fullmatch(stripped):
        return NO_CHORD
    match = _SYMBOL.fullmatch("".join(stripped.split()))
    if match and not _SIGN_AFTER_GAP.match(stripped):
        root_name, suffix, bass_name = match.groups()
        chord = _chord(root_name, _plain_words(suffix), bass_name or "")
        if chord is not None:
            return chord
    raise SymbolError(text, _nearest("".join(stripped.split())))


def _plain_words(suffix: str) -> str:
    """Write words of three letters and more in lower case: they mean the same in any."""
    return _WORDS.sub(lambda found: found.group().lower(), suffix)


def _chord(root_name: str, suffix: str, bass_name: str) -> Chord | None:
    """Return the chord of the longest stem that fits, or None."""
    for length in range(min(_LONGEST_STEM, len(suffix)), -1, -1):
        stem = _STEMS.get(suffix[:length])
        items = _items(suffix[length:]) if stem else None
        if stem is None or items is None or (items and stem[0] in MODES):
            continue
        try:
            family, written = _altered(*stem, items)
            return make_chord(root_name, family, written, bass_name)
        except ValueError:
            continue
    return None


def _items(tail: str) -> list[re.Match[str]] | None:
    """Split ``b9#11`` or ``(b9, 13)`` into its items; None when something else stands there."""
    items: list[re.Match[str]] = []
    segments = list(_SEGMENT.finditer(tail))
    if "".join(segment.group() for segment in segments) != tail:
        return None
    for segment in segments:
        text = segment["inside"] or segment["bare"] or ""
        found = list(_ITEM.finditer(text))
        if "".join(item.group() for item in found) != text:
            return None
        # A bare number outside parentheses is no alteration: "Cm7" + "9" says nothing.
        if segment["bare"] and any(
            item["number"] and not (item["add"] or item["sign"]) for item in found
        ):
            return None
        items += found
    return items


def _altered(
    family: str, implied: frozenset[int], items: list[re.Match[str]]
) -> tuple[str, frozenset[int]]:
    """Apply alterations to a stem. Raises ValueError when one does not fit."""
    written: set[int] = set()
    for item in items:
        sign = {"+": "#", "-": "b"}.get(item["sign"] or "", item["sign"] or "")
        if item["sharp_five"] or item["number"] == "5":
            family = _changed(_FIFTHS, family, "#" if item["sharp_five"] else sign)
        elif item["sus"] is not None:
            family = _changed(_SUSPENDED, family, item["sus"] or "4")
        elif item["major_seven"]:
            written.add(11)
        elif sign + item["number"] in _TENSIONS:
            written.add(_TENSIONS[sign + item["number"]])
        else:
            raise ValueError(item.group())
    return family, implied | written


def _changed(table: dict[tuple[str, str], str], family: str, how: str) -> str:
    if (family, how) not in table:
        raise ValueError(f"{family} {how}")
    return table[family, how]


@lru_cache(maxsize=1)
def known_suffixes() -> tuple[str, ...]:
    """Return spellings of every family, with and without usual alterations, sorted."""
    known = set(_STEMS)
    for family in FAMILIES.values():
        if family.kind == "none":
            continue
        singles = [frozenset({tension}) for tension in family.tensions | family.by_name]
        for written in (frozenset[int](), *singles):
            settled_family, left = settled(family.name, written)
            known.add(suffix_of(FAMILIES[settled_family], left))
    known |= {f"7({a},{b})" for a in ("b9", "#9") for b in ("#11", "b13", "13")}
    return tuple(sorted(known))


def _nearest(text: str) -> str:
    """Return the nearest spelling that can be read."""
    if text[:1].upper() == "N":
        return NO_CHORD.symbol
    first = text[:1].upper().replace("H", "B")
    match = _SYMBOL.fullmatch(first + text[1:])
    root_name, suffix, bass_name = match.groups() if match else ("C", text, None)
    if "/" in suffix and "6/9" not in suffix:
        suffix = suffix[: suffix.index("/")]
    close = get_close_matches(_plain_words(suffix[:24]), known_suffixes(), n=1, cutoff=0.0)
    return root_name + close[0] + (f"/{bass_name}" if bass_name else "")
