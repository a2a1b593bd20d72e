"""The server, and the helpers of a test, ended whatever happens."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from .server import TIMEOUT_MS, Performer, Receiver, Server, missing

HERE = Path(__file__).resolve().parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.jack)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Start the server, anew for every test: one that has lost a client is never quite the same.

    A test is skipped where there is none to be had.
    """
    yield from _running(tmp_path, TIMEOUT_MS)


@pytest.fixture
def impatient_server(tmp_path: Path) -> Iterator[Server]:
    """Start a server that is soon done with a client that was killed."""
    yield from _running(tmp_path, 5)


def _running(folder: Path, timeout_ms: int) -> Iterator[Server]:
    reason = missing()
    if reason:
        pytest.skip(reason)
    running = Server(folder, timeout_ms)
    yield running
    running.stop()


@pytest.fixture
def ending() -> Iterator[ExitStack]:
    """Collect what has to be ended after the test."""
    with ExitStack() as stack:
        yield stack


@pytest.fixture
def receiver(server: Server, tmp_path: Path, ending: ExitStack) -> Callable[..., Receiver]:
    """Return a function that starts a receiver with the inputs named."""

    def start(*names: str) -> Receiver:
        helper = Receiver(names, tmp_path)
        ending.callback(helper.quit)
        return helper

    return start


@pytest.fixture
def performer(server: Server, tmp_path: Path, ending: ExitStack) -> Callable[..., Performer]:
    """Return a function that starts a performer with the outputs named."""

    def start(*names: str) -> Performer:
        helper = Performer(names, tmp_path)
        ending.callback(helper.quit)
        return helper

    return start
