"""A machine that is late does what it can, tells what it could not, and a replay obeys: whatever
the delay, the messages of a session performed again are those that went out."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import pytest

from jam import log
from jam.events import Command, Cut, Play, Revoke, Silence
from jam.ports.ledger import Deviation, Ledger
from jam.ports.wire import CutNote, EndedEarly, PlayNote, RevokeNote, SilenceAll
from jam.session.replay import Obedient

STEP_SEC = 0.05
HEADER = log.session(program="0", machine="", seed=1, style="", chart=None, clock="internal")


@dataclass(frozen=True)
class Handed:
    """A command, when it was handed over, and how late it was read."""

    command: Command
    at: float
    late: float


def session_of(seed: int) -> tuple[Handed, ...]:
    """Return an evening of commands, each handed over a step after the other and read late."""
    rng = Random(seed)
    made = []
    for number in range(1, rng.randrange(5, 60)):
        at = log.rounded(number * STEP_SEC)
        late = rng.choice((0.0, 0.0, 0.0, 0.0005, 0.003, 0.02, 0.08, 0.25))
        made.append(Handed(command_of(number, at, rng), at, late))
    return tuple(made)


def command_of(number: int, at: float, rng: Random) -> Command:
    """Return what is commanded at second ``at``; notes have the number of their step as id, and
    each a pitch of its own, as the core never lets a key be struck while it sounds."""
    id = max(1, number - rng.randrange(12))
    t = log.rounded(at + rng.random() * 0.6)
    match rng.randrange(8):
        case 0:
            return Revoke(id)
        case 1:
            return Cut(id, t)
        case 2 if rng.random() < 0.3:
            return Silence()
    end = log.rounded(t + rng.uniform(0.01, 0.5))
    return Play(number, "companion", t, end, 3, 40 + number, 80)


def live(session: tuple[Handed, ...]) -> tuple[set[tuple[object, ...]], log.Log]:
    """Return what went out of a ledger that reads late, and the log of what it told."""
    ledger, told, sent = Ledger(), [], set()
    read_at = 0.0
    for handed in session:
        read_at = max(read_at, handed.at + handed.late)
        sent |= {(m.t, m.id, m.data) for m in ledger.advance(read_at)}
        told += [reported(d) for d in ledger.take(entry(handed), read_at)]
    sent |= {(m.t, m.id, m.data) for m in ledger.advance(1e6)}
    return sent, log.Log(HEADER, tuple(told))


def entry(handed: Handed) -> PlayNote | RevokeNote | CutNote | SilenceAll:
    match handed.command:
        case Play(id, part, t, end, channel, pitch, velocity):
            return PlayNote(id, part, t, end, channel, pitch, velocity, handed.at)
        case Revoke(id):
            return RevokeNote(id, handed.at)
        case Cut(id, t):
            return CutNote(id, t, handed.at)
        case Silence():
            return SilenceAll(handed.at)


def reported(deviation: Deviation) -> log.Record:
    """Return the log's record of a deviation, as `jam.session.io_client` makes it."""
    if isinstance(deviation, EndedEarly):
        return log.io(deviation.t, "note ended", {"note": deviation.id, "t": deviation.t})
    detail = {"note": deviation.id, "why": deviation.why, "handed": deviation.handed}
    return log.io(deviation.at, f"{deviation.what} refused", detail)


def again(session: tuple[Handed, ...], told: log.Log) -> set[tuple[object, ...]]:
    """Return what goes out when the session is performed again from its log."""
    port = Obedient(told)
    sent = set()
    for handed in session:
        sent |= {(m.t, m.note, m.data) for m in port.advance(handed.at)}
        port.take([handed.command], handed.at)
    return sent | {(m.t, m.note, m.data) for m in port.advance(1e6)}


def test_a_replay_of_a_late_machine_gives_the_same_messages() -> None:
    """Notes that were refused, could not be taken back, or ended before the word came."""
    deviations = 0
    for seed in range(1500):
        session = session_of(seed)
        sent, told = live(session)
        assert again(session, told) == sent, seed
        deviations += len(told.records)
    assert deviations > 3000, "or the machine was not late enough to prove anything"


@pytest.mark.parametrize("seed", range(20))
def test_a_punctual_machine_refuses_no_note_ahead(seed: int) -> None:
    """Read at once, a note that lies ahead is always taken."""
    ledger = Ledger()
    for handed in session_of(seed):
        ledger.advance(handed.at)
        deviations = ledger.take(entry(handed), handed.at)
        if isinstance(handed.command, Play) and handed.command.t > handed.at + 0.002:
            assert not deviations
