"""A JACK server that has died is noticed before a send would hang for ever; a slow one is not."""

from collections.abc import Sequence

import pytest

from jam.errors import PortError
from jam.ports.jack_life import LATE_SEC, JackLife


class Round:
    """The way round through a server: what the mouth says, the ear hears, while it runs."""

    def __init__(self) -> None:
        self.now = 0.0
        self.runs = True
        self.fails = False
        self.way: list[tuple[list[int], float]] = []

    def clock(self) -> float:
        """Return the time; each look at it takes a moment."""
        self.now += 1e-4
        return self.now

    def send_message(self, message: Sequence[int]) -> None:
        if self.fails:
            raise RuntimeError("the server has shut down")
        self.way.append((list(message), 0.0))

    def get_message(self) -> tuple[list[int], float] | None:
        return self.way.pop(0) if self.way and self.runs else None


def life_of(way: Round) -> JackLife:
    return JackLife(way, way, way.clock)  # type: ignore[arg-type]


def test_a_server_that_answers_lives_and_takes_any_number() -> None:
    """Looks and thousands of messages, and nothing is said against it."""
    way = Round()
    life = life_of(way)
    for _ in range(5000):
        life.spend()
    for _ in range(100):
        way.now += 0.5
        assert life.look()


def test_a_silent_server_is_lost_after_its_time() -> None:
    """Not before `LATE_SEC`, surely after it, and then for good."""
    way = Round()
    life = life_of(way)
    assert life.look()
    way.runs = False
    way.now += LATE_SEC - 0.01
    assert life.look()
    way.now += 0.02
    assert not life.look()
    way.runs = True
    assert not life.look()
    with pytest.raises(PortError):
        life.spend()


def test_no_more_than_a_server_holds_is_sent_to_a_silent_one() -> None:
    """Of one burst fewer messages are let through than the 2,340 that RtMidi takes (measured)."""
    way = Round()
    life = life_of(way)
    way.runs = False
    for _ in range(1000):
        life.spend()
    with pytest.raises(PortError):
        life.spend()
    assert not life.lost


def test_a_reader_that_was_stopped_does_not_blame_the_server() -> None:
    """If the answer came in the meantime, the pause was ours."""
    way = Round()
    life = life_of(way)
    assert life.look()
    way.now += 10.0
    assert life.look()


def test_a_binding_that_notices_by_itself_is_believed() -> None:
    """An exception on asking is a lost server, not a fault."""
    way = Round()
    way.fails = True
    assert not life_of(way).look()
