"""What is at hand for playing live: read from the news of the I/O process, told in a line each.

With neither a MIDI port nor a sound device nothing could be heard or played: then `jam demo` is
offered, which needs none of them. Every line names the one thing that mends it.
"""

from __future__ import annotations

from collections.abc import Iterable

from jam.ports.wire import News

DEMO = "With nothing at hand, hear the companion all the same: jam demo"

_HERE = ("input", "output", "sound")


def can_play(facts: Iterable[News]) -> bool:
    """Say whether anything at all could be heard or played: a MIDI port, or built-in sound."""
    return any(news.topic in _HERE for news in facts)


def missing_lines(facts: Iterable[News]) -> list[str]:
    """Return a line for each thing that is missing, and the offer of the demo if all is."""
    facts = list(facts)
    told = [news.text for news in facts if news.topic in ("missing", "fault")]
    if not can_play(facts):
        # Which parts go without a port is no news where there is no port for anybody.
        general = [text for text in told if not _of_one_role(text)]
        told = [*(general or told), DEMO]
    return list(dict.fromkeys(told))


def _of_one_role(text: str) -> bool:
    role = text.partition(":")[0]
    return role.partition(",")[0] in ("player", "band", "clock", "cue", "companion", "thru")
