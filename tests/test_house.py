"""The rules of the house that a reader cannot be asked to check by eye."""

from __future__ import annotations

import ast
import re
import shlex
import subprocess
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import jam
from jam.cli.main import build_parser, with_command

ROOT = Path(__file__).resolve().parent.parent
TEXT_SUFFIXES = {".py", ".md", ".yaml", ".yml", ".toml", ".txt", ".sh", ".cfg", ""}
MOST_LINES = 400

MACHINE_PATHS = re.compile(r"(?<![\w.~$}])/(?:work|tmp|home|root|Users)/\w")
LEFT_OVER = re.compile(r"\b(?:FIXME|TODO)\b")


def tracked() -> list[Path]:
    """Return the files under version control, or all there are where there is no git."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode == 0 and listed.stdout:
        paths = [ROOT / name for name in listed.stdout.split("\0") if name]
        return [path for path in paths if path.is_file()]
    shipped = ("jam", "tests", "styles", "config", ".ci")
    found = [path for top in shipped for path in (ROOT / top).rglob("*")]
    found += ROOT.glob("*.*")
    return [path for path in found if path.is_file() and "__pycache__" not in path.parts]


TEXTS = [p for p in tracked() if p.suffix in TEXT_SUFFIXES and p != Path(__file__).resolve()]
SOURCES = [p for p in TEXTS if p.suffix == ".py" and p.is_relative_to(ROOT / "jam")]
TESTS = [p for p in TEXTS if p.suffix == ".py" and p.is_relative_to(ROOT / "tests")]


def names(paths: list[Path]) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


def lines_with(pattern: re.Pattern[str]) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for path in TEXTS
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]


def test_there_is_something_to_check() -> None:
    """The lists that the other tests walk through are not empty."""
    assert len(SOURCES) > 10
    assert len(TESTS) > 2


def test_no_path_of_one_machine() -> None:
    """No file names a folder that only one machine has."""
    assert MACHINE_PATHS.search('open("' + "/home" + '/somebody/x")')
    assert not lines_with(MACHINE_PATHS)


def test_nothing_is_left_over() -> None:
    """No reminder of work to be done stands in the code."""
    assert LEFT_OVER.search("# TODO: later")
    assert not lines_with(LEFT_OVER)


def test_versions_agree() -> None:
    """The package tells the version it is built as."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == jam.__version__


@pytest.mark.parametrize("path", SOURCES, ids=names(SOURCES))
def test_no_file_grows_too_long(path: Path) -> None:
    """A file does one thing, and that fits on 400 lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_LINES


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(body: list[ast.stmt], prefix: str = "") -> Iterator[tuple[str, ast.FunctionDef]]:
    """Yield the public functions of a module and the public methods of its public classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield f"{prefix}{node.name}", node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from functions(node.body, f"{node.name}.")


@cache
def documented_elsewhere() -> set[str]:
    """Return the methods that a protocol documents for all that follow it."""
    return {
        method.name
        for path in SOURCES
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.ClassDef)
        and any(ast.unparse(base).startswith("Protocol") for base in node.bases)
        for method in node.body
        if isinstance(method, ast.FunctionDef) and ast.get_docstring(method)
    }


@pytest.mark.parametrize("path", SOURCES, ids=names(SOURCES))
def test_public_functions_are_documented(path: Path) -> None:
    """Every module and public function says what it answers, in its docstring or its protocol's."""
    tree = parsed(path)
    exempt = documented_elsewhere()
    bare = [
        name
        for name, node in functions(tree.body)
        if not ast.get_docstring(node) and not ("." in name and node.name in exempt)
    ]
    assert not bare
    assert ast.get_docstring(tree) or not tree.body


@pytest.mark.parametrize("path", TESTS, ids=names(TESTS))
def test_every_test_says_what_must_hold(path: Path) -> None:
    """A failing test can be understood from its docstring alone."""
    found = functions(parsed(path).body)
    bare = [
        name
        for name, node in found
        if node.name.startswith("test_") and not ast.get_docstring(node)
    ]
    assert not bare


def readme_commands() -> list[list[str]]:
    """Return the arguments of every `jam` command in the README's blocks of commands."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = []
    for block in re.findall(r"^```(?:sh|console|powershell)\n(.*?)^```", text, re.DOTALL | re.M):
        for line in re.split(r"\n|&&|;", block):
            words = shlex.split(line, comments=True, posix="\\" not in line)
            if words and re.fullmatch(r"(?:\S*[/\\])?jam", words[0]):
                commands.append(words[1:])
    return commands


def test_readme_commands_exist() -> None:
    """Every command line that the README shows is one that the program understands."""
    commands = readme_commands()
    assert ["demo"] in commands
    parser = build_parser()
    for words in commands:
        assert "run" in parser.parse_args(with_command(words)), words


def test_readme_shows_the_two_lines_that_set_up() -> None:
    """The line that ends with the demo and the line that ends with the tests stand there once."""
    text = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert sum(line.endswith("&& .venv/bin/jam demo") for line in text) == 1
    assert sum(line.endswith("&& .venv/bin/python -m pytest") for line in text) == 1
