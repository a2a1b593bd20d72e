"""Make the idiom that ships from human solos that do not: counts and hashes, no notes.

    python -m tests.bench.idiom_ship --data FOLDER             # compare with what ships
    python -m tests.bench.idiom_ship --data FOLDER --out FILE  # write it

The folder holds one JSON file a solo (see `tests.bench.soloist_people`). Solos in swing feel are
taken, in order of their names; the result is the same byte for byte.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from jam.idiom.learn import Played, learn
from jam.idiom.text import write_idiom
from jam.listening.phrase import LineNote
from jam.session.idioms import IDIOMS
from jam.session.resources import data_folder
from tests.bench.soloist_people import Solo, folder, solos

NAME = "mainstream"
FEEL = "SWING"
ABOUT = "Lines in swing feel, from traditional to post-bop: how soloists on record usually go on."
LICENCE = "ODbL-1.0"
DATABASE = (
    "Weimar Jazz Database: M. Pfleiderer, K. Frieler, J. Abesser, W.-G. Zaddach, B. Burkhart (eds.)"
    " 2017, Inside the Jazzomat. New Perspectives for Jazz Research, Schott Campus"
)


def played(one: Solo) -> Played:
    """Return a solo as it is learnt from, in the phrases that people marked in it."""
    phrases: defaultdict[int, list[LineNote]] = defaultdict(list)
    for note, number in zip(one.notes, one.line.phrases, strict=True):
        phrases[number].append(note)
    return Played(tuple(tuple(phrases[k]) for k in sorted(phrases)), one.changes, one.bpm)


def swinging(data: Path) -> list[Played]:
    """Return the solos in swing feel."""
    return [played(one) for one in solos(data) if FEEL in one.feel]


def shipped_text(lines: Sequence[Played]) -> str:
    """Return the text of the file that ships."""
    made = f"A derived database: counts and hashes over {len(lines)} solos; it holds no solo."
    return write_idiom(
        learn(lines), name=NAME, about=ABOUT, licence=LICENCE, sources=(DATABASE, made)
    )


def main() -> int:
    """Write the file, or compare it with the one that ships."""
    parser = argparse.ArgumentParser(description="make the idiom that ships")
    parser.add_argument("--data", type=Path, required=True, help="the folder of solos")
    parser.add_argument("--out", type=Path, help="where to write (usual: only compare)")
    args = parser.parse_args()
    where = folder(args.data)
    lines = swinging(where) if where is not None else []
    if not lines:
        print(f"{args.data}: no solos in swing feel", file=sys.stderr)  # noqa: T201
        return 2
    text = shipped_text(lines)
    if args.out is not None:
        args.out.write_text(text, encoding="utf-8", newline="\n")
        return 0
    shipped = data_folder() / IDIOMS / f"{NAME}.json"
    same = shipped.read_bytes() == text.encode("utf-8")
    print(f"{shipped}: {'the same' if same else 'NOT the same'}, {len(text)} bytes")  # noqa: T201
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
