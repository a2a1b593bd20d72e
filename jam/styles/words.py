"""What a style says, in words a musician reads before playing with it.

A paragraph each on its instrument, its rhythm, its lines, what it does with an idea, its time
and its manners. A weight is told as what it is, a liking, and how far it goes: what is played in
the end also follows the player's idea and the idiom (`jam.styles.parts`). The figures and moves
named are those it likes most.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Mapping

from jam.harmony.keys import parse_key
from jam.harmony.spelling import spell
from jam.styles.names import FIGURES_HEARD, MOVES_HEARD
from jam.styles.profile import Rhythm, Style

WIDTH = 80
_MOST_NAMED = 3
_LIKED = 0.45
_FLATS = parse_key("Ab major")

_HOW_OFTEN = (
    (0.005, "never"),
    (0.15, "hardly ever"),
    (0.35, "now and then"),
    (0.6, "often"),
    (0.85, "very often"),
    (1.0, "nearly always"),
)
_WISHED = (
    (0.005, "not at all"),
    (0.15, "hardly ever"),
    (0.35, "now and then"),
    (0.45, "under half the time"),
    (0.55, "half the time"),
    (0.65, "over half the time"),
    (0.85, "most of the time"),
    (1.0, "nearly always"),
)
_MATERIAL = {
    "everything": "",
    "guide tones": "Strictly 3 and 7 of each chord, nothing else. ",
    "chord tones": "Strictly chord tones. ",
    "arpeggios": "Strictly chord tones and the tensions that are available on the chord. ",
    "approaches": "Strictly chord tones, available tensions, and approaches and enclosures that"
    " lead to them. ",
}
_NO_COLOUR = frozenset(
    {"tensions", "altered dominants", "approach notes", "enclosures", "blue notes",
     "notes that lean on a change"}
)  # fmt: skip
_CLOSED = {
    "everything": frozenset[str](),
    "guide tones": _NO_COLOUR | {"broken chords"},
    "chord tones": _NO_COLOUR,
    "arpeggios": _NO_COLOUR - {"tensions", "altered dominants"},
    "approaches": frozenset({"blue notes"}),
}
"""What of a line a level of material does not let happen, whatever its weight."""
_LANDINGS = {"guide tones": ("3", "7"), "chord tones": ("1", "3", "5", "6", "7")}
_HELD = ("riff", "pedal")
_FIGURES = {
    "guide tones": _HELD,
    "chord tones": ("broken_chord", *_HELD),
    "arpeggios": ("arpeggio", "upper_triad", "broken_chord", "digital", "altered", *_HELD),
}
"""Figures that can be made of the notes of a level of material."""
_EARLY = {
    "finish": "When you come in early it finishes its figure",
    "yield": "When you come in early it ends within an eighth",
    "shorten": "When you come in early it ends at once and trades shorter turns from then on",
}
_CURVE = {
    "arch": "the colour is in the middle of a phrase, plain ends",
    "rising": "the colour grows to the end of a phrase",
    "level": "the colour is the same all through a phrase",
}


def explain(style: Style) -> str:
    """Return the style in a few paragraphs, lines of at most `WIDTH` characters."""
    title = f"{style.name}: {style.about}"
    parts = {
        "Instrument": _instrument(style),
        "Rhythm": _rhythm(style.rhythm),
        "Lines": _MATERIAL[style.material] + _lines(style) + _landing(style),
        "Figures": _figures(style),
        "Your idea": _idea(style),
        "Time": _time(style),
        "Manners": _manners(style),
        "Idiom": _idiom(style),
    }
    paragraphs = [f"{name}. {words}" for name, words in parts.items()]
    return "\n\n".join(textwrap.fill(text, WIDTH) for text in (title, *paragraphs))


def how_often(weight: float) -> str:
    """Return a weight from 0 to 1 in words."""
    return next(words for limit, words in _HOW_OFTEN if weight <= limit)


def wished(weight: float) -> str:
    """Return in words how often something is wished for, where nothing else decides it."""
    return next(words for limit, words in _WISHED if weight <= limit)


def _instrument(style: Style) -> str:
    able = style.instrument
    name = (
        f"{'an' if able.name[0] in 'aeiou' else 'a'} {able.name}"
        if able.name
        else f"General MIDI program {able.program}"
    )
    bends = max(style.feel.scoops, style.feel.falls) if able.bends else 0.0
    low, high = (spell(pitch, key=_FLATS) for pitch in (able.low, able.high))
    return (
        f"It plays {name} from {low} to {high} (as it sounds), phrases of {able.breath_sec:g}"
        f" seconds at most. It {how_often(bends)} slides into notes or falls off them."
    )


def _rhythm(rhythm: Rhythm) -> str:
    silence = (
        f"leaves about {round(rhythm.space * 100)} % of its turn silent"
        if rhythm.space >= 0.005
        else "fills its turn"
    )
    wishes = {
        "off-beat beginnings": rhythm.start_off_beat,
        "off-beat ends": rhythm.end_off_beat,
        "triplets": rhythm.triplets,
        "sixteenths": rhythm.sixteenths,
        "rests": min(1.0, rhythm.rests * 2),
        "riffs": rhythm.riffs,
        "long replies in two phrases": rhythm.two_phrases,
    }
    liked = "; ".join(f"{_listed(what)} ({word})" for word, what in _grouped(wishes, wished))
    return (
        f"{_dense(rhythm.density)}: about {rhythm.density:g} notes a beat inside a phrase at"
        f" 160 bpm, {_far(rhythm.mirror)} swayed by yours. Where your idea leaves"
        f" it free it likes {liked}. It {silence}."
    )


def _dense(density: float) -> str:
    scale = ((0.9, "Very sparse"), (1.4, "Few notes"), (2.0, "Flowing"), (2.5, "Busy"))
    return next((words for limit, words in scale if density <= limit), "Very dense")


def _lines(style: Style) -> str:
    """Tell the taste of the line, the strongest first, and only what its material lets happen."""
    lines = style.lines
    told = {
        "steps": lines.scale,
        "broken chords": lines.arpeggios,
        "leaps": lines.leaps,
        "repeated notes": lines.repeats,
        "approach notes": lines.approach,
        "enclosures": lines.enclosures,
        "tensions": lines.tensions,
        "altered dominants": lines.altered,
        "blue notes": lines.blue,
        "notes that come before their chord": lines.anticipations,
        "notes that lean on a change": lines.leaning,
    }
    closed = _CLOSED[style.material]
    able = {what: weight for what, weight in told.items() if what not in closed}
    text = "; ".join(f"{word} {_listed(what)}" for word, what in _grouped(able, how_often))
    return f"{text[:1].upper()}{text[1:]}. "


def _grouped(
    weights: Mapping[str, float], said: Callable[[float], str]
) -> Iterable[tuple[str, list[str]]]:
    """Return what is weighed, the most first, by the words that ``said`` has for the weights."""
    by_word: dict[str, list[str]] = {}
    for what in sorted(weights, key=lambda name: -weights[name]):
        by_word.setdefault(said(weights[what]), []).append(what)
    return by_word.items()


def _landing(style: Style) -> str:
    """Tell where lines land, and how colour goes where there is any."""
    able = _LANDINGS.get(style.material)
    wanted = [degree for degree in style.landing if able is None or degree in able][:4]
    lands = f"Lands on {', '.join(wanted)} first" if wanted else ""
    curve = _CURVE[style.tension_curve] if able is None else ""
    text = "; ".join(filter(None, (lands, curve)))
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _figures(style: Style) -> str:
    able = _FIGURES.get(style.material, tuple(style.vocabulary))
    weights = {name: style.vocabulary[name] for name in able if style.vocabulary[name] > 0}
    return f"Most of all {_favourites(weights, FIGURES_HEARD)}." if weights else "None."


def _idea(style: Style) -> str:
    literal = style.idea.literal
    near = (
        "keeps close to what you played"
        if literal >= 0.75
        else "takes what you played as a start"
        if literal >= 0.45
        else "takes only a hint from what you played"
    )
    return (
        f"It {near}. Its moves, most of all: {_favourites(style.idea.moves, MOVES_HEARD)}."
        f" It {how_often(style.idea.quote)} comes back to something said earlier,"
        f" {how_often(style.idea.contrast)} does the opposite of yours and"
        f" {how_often(style.dynamics.mirror)} takes up how loud you play."
    )


def _favourites(weights: Mapping[str, float], heard: Mapping[str, str]) -> str:
    """Name what is liked most, each with what one hears of it."""
    order = sorted(weights, key=lambda name: -weights[name])
    best = [name for name in order if weights[name] >= _LIKED][:_MOST_NAMED] or order[:1]
    return "; ".join(f"{name.replace('_', ' ')} ({heard[name]})" for name in best)


def _time(style: Style) -> str:
    feel = style.feel
    ends = "short and dry" if feel.legato < 0.7 else "joined" if feel.legato >= 0.95 else "detached"
    swing = f"Swing {feel.swing:g} to 1" if feel.swing > 1 else "Even eighths"
    late = (
        f"{feel.late_ms:g} ms behind the beat at 160 bpm, less when faster"
        if feel.late_ms
        else "on the beat"
    )
    drift = f"{round(feel.human * 100)} % of" if feel.human >= 0.005 else "none of"
    return (
        f"{swing}, downbeats {late}. Notes are {ends}, {how_often(feel.ghosts)} ghosted;"
        f" {drift} people's drift in time."
        f" Loudness around {style.dynamics.level} of 127, accents {style.dynamics.accent} above."
    )


def _manners(style: Style) -> str:
    growth = style.growth
    grows = (
        "Its choruses stay level"
        if growth < 0.15
        else "Its choruses grow a little"
        if growth < 0.5
        else "Its choruses build towards the last third"
    )
    return f"{_EARLY[style.barge_in]}. {grows}."


def _idiom(style: Style) -> str:
    choice = style.idiom
    if not (choice.weight or choice.rhythm):
        return "It follows no learnt idiom, only what stands here."
    name = "the plain built-in one" if choice.name == "plain" else f"`{choice.name}`"
    return (
        f"What people usually play ({name}) steers its pitches {_far(choice.weight)} and its"
        f" rhythm {_far(choice.rhythm)}."
    )


def _far(weight: float) -> str:
    scale = ((0.005, "not at all"), (0.3, "a little"), (0.6, "somewhat"), (0.85, "much"))
    return next((words for limit, words in scale if weight <= limit), "very much")


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
