"""Replies by an idiom that does not know the people they are judged against.

The idiom that ships is learnt from the same solos that a judge compares with. Here the solos are
parted in two; each half is replied to with an idiom learnt from the other half, and judged against
its own people.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import product
from pathlib import Path
from unittest.mock import patch

from jam.idiom.learn import learn
from jam.idiom.text import read_idiom, write_idiom
from jam.session.resources import Entry, Found
from tests.bench import soloist_ground
from tests.bench.idiom_ship import ABOUT, LICENCE, NAME, played
from tests.bench.soloist_calls import PROCESSES, Exchange, session
from tests.bench.soloist_ground import of_solo
from tests.bench.soloist_people import Solo


def learnt_text(solos: Sequence[Solo]) -> str:
    """Return an idiom learnt from ``solos``, as its file would hold it."""
    lines = [played(one) for one in solos if "SWING" in one.feel]
    return write_idiom(learn(lines), name=NAME, about=ABOUT, licence=LICENCE, sources=("made",))


def replies(text: str, task: tuple[Solo, str, int, int]) -> list[Exchange]:
    """Return the replies of one session, planned with the idiom in ``text``."""
    solo, style, seed, first = task
    idiom = read_idiom(text, "made")
    found = Found(Entry(NAME, Path(NAME), "file"), idiom)
    with patch.object(soloist_ground, "find_idiom", lambda name: found):
        return session(of_solo(solo), style, seed, first)


def strangers(
    judged: Sequence[Solo],
    everybody: Sequence[Solo],
    styles: Sequence[str],
    options: argparse.Namespace,
) -> list[Exchange]:
    """Return replies over the solos ``judged`` by idioms that know only the others of
    ``everybody``, every second solo at a time."""
    kept: list[Exchange] = []
    names = [one.name for one in judged]
    with ProcessPoolExecutor(PROCESSES) as pool:
        for side in (0, 1):
            mine = set(names[side::2])
            text = learnt_text([one for one in everybody if one.name not in mine])
            tasks = [
                (one, style, options.seed, first)
                for one, style, first in product(judged, styles, (1, 2))
                if one.name in mine
            ]
            for found in pool.map(partial(replies, text), tasks):
                kept += found
    return kept
