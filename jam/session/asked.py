"""What any session may be asked for, in words, as the core takes it.

Nothing that plays is imported here, so that live play can open its ports before the rest is there.
"""

from __future__ import annotations

from typing import cast

from jam.charts.model import Chart
from jam.core.setup import TurnKind, Turns
from jam.errors import InputError
from jam.harmony.keys import Key, parse_key
from jam.session.options import FirstChoice, LiveTurnChoice, UnevenChoice

CHART = "lamplight-blues"
"""The tune when none is asked for."""


def turns_of(
    choice: LiveTurnChoice,
    first: FirstChoice = "player",
    uneven: UnevenChoice = "swap",
    *,
    eager: bool = False,
) -> Turns:
    """Return the turns as the core takes them."""
    if choice in ("2", "4", "8"):
        return Turns("trade", int(choice), first, uneven, eager)
    return Turns(cast(TurnKind, choice), 4, first, uneven, eager)


def key_of(typed: str | None, chart: Chart | None) -> Key | None:
    """Return the key as typed (``--key``), else the chart's; raises InputError."""
    if typed is None:
        return chart.key if chart is not None else None
    try:
        return parse_key(typed)
    except ValueError:
        mend = "Write it as Eb major, C minor, F, Dm or D dorian."
        raise InputError(f"--key {typed}", "this key is unknown", mend) from None
