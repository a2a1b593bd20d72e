"""Which room may import which, and what the rooms of the core keep their hands off.

The table is the one of DEVELOPERS.md: imports go to earlier rows only.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "jam"

ROWS: tuple[tuple[str, ...], ...] = (
    ("errors",),
    ("events",),
    ("yaml_text",),
    ("log",),
    ("transport",),
    ("harmony",),
    ("charts",),
    ("listening",),
    ("idiom",),
    ("styles",),
    ("players",),
    ("core",),
    ("sound", "review"),
    ("ports",),
    ("stage",),
    ("session",),
    ("cli",),
)
RANK = {room: rank for rank, row in enumerate(ROWS) for room in row}

# Rooms that start no thread, read no clock, open no file, print nothing, throw no own dice.
SILENT = [room for room in RANK if RANK[room] <= RANK["core"]] + ["sound"]

FORBIDDEN_MODULES = {
    "asyncio",
    "concurrent",
    "datetime",
    "multiprocessing",
    "os",
    "queue",
    "random",
    "sched",
    "secrets",
    "select",
    "shutil",
    "signal",
    "socket",
    "sqlite3",
    "subprocess",
    "sys",
    "tempfile",
    "threading",
    "time",
    "urllib",
    "uuid",
}
FORBIDDEN_CALLS = {"open", "print", "input", "breakpoint", "exec", "eval"}
FORBIDDEN_METHODS = {"read_text", "write_text", "read_bytes", "write_bytes", "unlink"}
ALLOWED_DICE = {"Generator", "default_rng", "SeedSequence", "PCG64"}
NATIVE = {"rtmidi", "supriya_midi", "sounddevice", "miniaudio"}

# A worker is a process of its own: it is started, never imported, and may do as it likes.
WORKERS = sorted(PACKAGE.rglob("*_worker.py"))
MODULES = sorted(set(PACKAGE.rglob("*.py")) - set(WORKERS))


def room_of(path: Path) -> str:
    """Return the room a module lives in; each top file of the package is a room of its own."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Yield the dotted name and line of every import, wherever in the file it stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"line {node.lineno}: relative import"
            for alias in node.names:
                yield f"{node.module}.{alias.name}", node.lineno


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def misplaced(room: str, name: str) -> bool:
    """Say whether a module of ``room`` may not import ``name``."""
    parts = name.split(".")
    if parts[0] != "jam" or parts[1:] in ([], ["__version__"]):
        return False
    wanted = parts[1]
    return wanted != room and RANK[wanted] >= RANK[room]


def test_every_room_is_in_the_table() -> None:
    """A folder or top file of the package that the table does not name has no place."""
    rooms = {room_of(path) for path in MODULES} - {"__init__", "__main__", "data"}
    assert rooms <= RANK.keys()
    assert {"events", "core", "cli"} <= rooms


@pytest.mark.parametrize("room", RANK)
def test_imports_go_up_the_table_only(room: str) -> None:
    """A module imports its own room and rooms of earlier rows, nothing else of the package."""
    wrong = [
        f"{path.relative_to(PACKAGE)}:{line} imports {name}"
        for path in MODULES
        if room_of(path) == room
        for name, line in imports(parsed(path))
        if misplaced(room, name)
    ]
    assert not wrong, "\n".join(wrong)


def test_the_rule_can_fail() -> None:
    """An import down the table, or across a row, is told apart from one up the table."""
    assert misplaced("harmony", "jam.core.core")
    assert misplaced("sound", "jam.review.report")
    assert not misplaced("core", "jam.harmony.chord")
    assert not misplaced("session", "jam.__version__")


@pytest.mark.parametrize("room", SILENT)
def test_core_rooms_do_no_io(room: str) -> None:
    """No thread, clock, file, print or dice of its own in any room of the core."""
    wrong = [
        f"{path.relative_to(PACKAGE)}:{fault}"
        for path in MODULES
        if room_of(path) == room
        for fault in faults(parsed(path))
    ]
    assert not wrong, "\n".join(wrong)


def faults(tree: ast.AST) -> Iterator[str]:
    """Yield what a silent room may not do, with its line."""
    for name, line in imports(tree):
        if name.split(".")[0] in FORBIDDEN_MODULES | NATIVE:
            yield f"{line} imports {name}"
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield from _faults_of_call(node)
        elif (
            isinstance(node, ast.Attribute)
            and ast.unparse(node.value)
            in (
                "np.random",
                "numpy.random",
            )
            and node.attr not in ALLOWED_DICE
        ):
            yield f"{node.lineno} uses the global dice np.random.{node.attr}"


def _faults_of_call(node: ast.Call) -> Iterator[str]:
    name = ast.unparse(node.func)
    if name in FORBIDDEN_CALLS:
        yield f"{node.lineno} calls {name}"
    if isinstance(node.func, ast.Attribute) and node.func.attr in FORBIDDEN_METHODS:
        yield f"{node.lineno} calls {name}"
    if name.endswith("default_rng") and not (node.args or node.keywords):
        yield f"{node.lineno} makes a generator without a seed"


@pytest.mark.parametrize(
    "line",
    [
        "import time",
        "from threading import Thread",
        "print(1)",
        "open('x')",
        "path.read_text()",
        "np.random.rand()",
        "np.random.default_rng()",
        "import rtmidi",
    ],
)
def test_each_fault_is_found(line: str) -> None:
    """Every kind of thing that the core keeps its hands off is seen when it is there."""
    assert list(faults(ast.parse(line)))


def test_a_passed_generator_is_no_fault() -> None:
    """A generator that was handed over, or made from a seed, is how chance comes in."""
    assert not list(faults(ast.parse("np.random.default_rng(7)\nrng: np.random.Generator")))


def test_native_libraries_are_never_imported_at_the_top() -> None:
    """A module of the package loads on a machine without MIDI and sound libraries."""
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {name}"
        for path in MODULES
        for node in parsed(path).body
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name, _ in imports(node)
        if name.split(".")[0] in NATIVE | {"music21"}
    ]
    assert not wrong, "\n".join(wrong)


def test_workers_are_started_and_never_imported() -> None:
    """What a worker loads stays in its own process."""
    names = {worker.stem for worker in WORKERS}
    wrong = [
        f"{path.relative_to(PACKAGE)}:{line} imports {name}"
        for path in MODULES
        for name, line in imports(parsed(path))
        if names & set(name.split("."))
    ]
    assert not wrong, "\n".join(wrong)


def test_heavy_libraries_stay_off_the_live_path() -> None:
    """Importing every room of the core loads neither music21 nor scipy nor matplotlib."""
    names = [
        ".".join(("jam", *path.relative_to(PACKAGE).with_suffix("").parts))
        for path in MODULES
        if room_of(path) in SILENT
    ]
    program = (
        "import importlib, sys\n"
        f"for name in {names!r}: importlib.import_module(name)\n"
        "print(sorted({'music21', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "[]", done.stderr
