"""The page that a player reads from the piano stool: one state in, lines of text out.

From above: the tune and the clock, the place in the form, chord now and next (large), whose turn
it is and for how long, the notes allowed now, the last call and the last reply with degrees and
roles, news, keys. Whose turn it is stands in words, between marks, the player's to the left and the
companion's to the right. What does not fit is left out, the least needed first.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from rich.text import Text

from jam.core.snapshot import Snapshot
from jam.harmony.pitch import COMMON_NAMES
from jam.harmony.spelling import spell
from jam.stage.terminal import wording
from jam.stage.terminal.glyphs import BLUE, BROWN, COLOURS, Glyphs, large
from jam.stage.terminal.letters import key_lines, key_row
from jam.stage.terminal.standing import Standing
from jam.stage.terminal.story import Phrase, Story, chord_named
from jam.stage.terminal.systems import count_systems, systems

WIDE = 64
"""Columns from which on things stand side by side."""

_NARROWEST = 16
_TALL = 32
_SMALL, _LARGE = 3, 5
_MOST_SYSTEMS = 6
_ROLES = ("chord tone", "tension", "approach", "anticipation", "leaning", "blue", "free")


@dataclass(frozen=True)
class Block:
    """Lines that stand or fall together; the lower ``need``, the sooner they fall."""

    need: int
    lines: list[Text]


@dataclass(frozen=True)
class Page:
    """All that a page is made of. ``news`` are plain words, the newest last."""

    standing: Standing
    story: Story
    shown: Snapshot | None
    news: Sequence[str]
    glyphs: Glyphs
    keys_shown: bool = False

    def lines(self, width: int, height: int) -> list[Text]:
        """Return the page as at most ``height`` lines of at most ``width`` columns."""
        whole = self._laid_out(max(width, _NARROWEST), height)
        return [_cut(line, width) for line in whole]

    def _laid_out(self, width: int, height: int) -> list[Text]:
        if self.keys_shown:
            return self._key_page(width, height)
        shown = self.shown
        if shown is None or shown.waiting:
            blocks = self._before_the_start(width)
        else:
            blocks = self._playing(shown, width, height)
        playing = shown is not None and shown.running
        bottom = [Text(key_row(width, tapped=self.standing.tapped, playing=playing))]
        lines = _fitted(blocks, height - len(bottom))
        lines += [Text()] * (height - len(bottom) - len(lines))
        return [*lines, *bottom]

    # --- pages ---------------------------------------------------------------------------

    def _key_page(self, width: int, height: int) -> list[Text]:
        lines = [Text("Keys", "bold"), Text()]
        for text in key_lines(tapped=self.standing.tapped):
            lines += _wrapped(text, width, indent=7)
        return lines[:height]

    def _before_the_start(self, width: int) -> list[Block]:
        standing = self.standing
        tune = [standing.title or "No chart", "" if standing.key is None else standing.key.name]
        style = "" if self.shown is None else f"reply style {self.shown.style}"
        tempo = "" if standing.tapped else f"{standing.tempo_bpm:.0f} bpm"
        facts = [f"{standing.metre}", tempo, standing.turns, style]
        chord = "" if self.shown is None else self.shown.chord or ""
        blocks = [
            Block(9, [Text(self._joined(tune), "bold")]),
            Block(6, _wrapped(self._joined(facts), width)),
            Block(1, [Text()]),
            Block(10, [Text(line, "bold") for line in textwrap.wrap(standing.to_start, width)]),
            Block(1, [Text()]),
            Block(8, self._news(width, most=99)),
            Block(1, [Text()]),
        ]
        if chord:
            blocks.append(Block(3, [Text("first chord"), *self._large(chord, width, _SMALL)]))
        keys = [Text(text) for text in key_lines(tapped=standing.tapped)]
        return [*blocks, Block(1, [Text()]), Block(2, keys)]

    def _playing(self, shown: Snapshot, width: int, height: int) -> list[Block]:
        blocks: list[Block] = []
        for most in range(_MOST_SYSTEMS, 0, -1):
            blocks = self._blocks(shown, width, height, most)
            if sum(len(block.lines) for block in blocks) < height:
                break
        return blocks

    def _blocks(self, shown: Snapshot, width: int, height: int, most: int) -> list[Block]:
        call, reply = self.story.call, self.story.reply
        chord_rows = _LARGE if height >= _TALL or not self.glyphs.halves else _SMALL
        blocks = [
            Block(5, self._head(shown, width)),
            Block(9, self._form(shown, width)),
            Block(3, self._strip(shown, width)),
            Block(1, [Text()]),
            Block(10, self._chords(shown, width, chord_rows)),
            Block(1, [Text()]),
            Block(10, self._turn(shown, width)),
            Block(6, self._allowed(shown, width)),
            Block(1, [Text()]),
            Block(4, self._phrase("You", call, shown, width, max(1, most - 1))),
            Block(7, self._phrase("Companion", reply, shown, width, most)),
            Block(2, self._legend(reply, width)),
            Block(1, [Text()]),
            Block(8, self._news(width, most=3)),
        ]
        return [block for block in blocks if block.lines]

    # --- blocks --------------------------------------------------------------------------

    def _joined(self, words: Sequence[str]) -> str:
        return f" {self.glyphs.dot} ".join(word for word in words if word)

    def _head(self, shown: Snapshot, width: int) -> list[Text]:
        name = self._joined([self.standing.title or "No chart", shown.style])
        clock = wording.clock_words(shown, self.standing)
        if len(name) + len(clock) + 2 <= width:
            return [Text(f"{name}{clock:>{width - len(name)}}")]
        return [Text(name), Text(clock)]

    def _form(self, shown: Snapshot, width: int) -> list[Text]:
        count, of = wording.count_in_bar(shown, self.standing)
        beat = f"beat {count} of {of}"
        state = wording.state_words(shown)
        if shown.count_in:
            return [Text(f"COUNT-IN   {beat}", "bold")]
        section = f"section {shown.section}" if shown.section else ""
        bar = (
            f"bar {shown.form_bar} of {shown.form_bars}" if shown.form_bars else f"bar {shown.bar}"
        )
        place = Text(f"{bar}   {beat}", "bold")
        form = Text(self._joined([wording.chorus_words(shown), section]))
        told = Text(state.upper(), "bold")
        if width < WIDE:
            return [place, form, *([told] if state else [])]
        line = form + Text("   ") + place
        if not state:
            return [line]
        together = line + Text("   ") + told
        return [together] if together.cell_len <= width else [line, told]

    def _strip(self, shown: Snapshot, width: int) -> list[Text]:
        """The bars of the chorus, in fours: gone, now, to come."""
        bars, now = shown.form_bars, shown.form_bar
        if not bars or shown.count_in:
            return []
        signs = [
            self.glyphs.bar_gone
            if bar < now
            else self.glyphs.bar_now
            if bar == now
            else self.glyphs.bar_to_come
            for bar in range(1, bars + 1)
        ]
        fours = ["".join(signs[at : at + 4]) for at in range(0, bars, 4)]
        line = " ".join(fours)
        return [Text(line)] if len(line) <= width else []

    def _chords(self, shown: Snapshot, width: int, rows: int) -> list[Text]:
        if shown.count_in:
            return self._first_chord(shown, width, rows)
        now, coming = shown.chord or "", shown.next_chord or ""
        wait = _wait(shown)
        if not now:
            return [Text("no chord known yet", "bold")]
        if width < WIDE:
            below = [Text(f"next {coming}{wait}", "bold")] if coming else []
            return [*self._large(now, width, rows), *below]
        half = width // 2
        first = large(now, self.glyphs, half - 2, rows)
        second = large(coming, self.glyphs, width - half, rows)
        size = max(len(first), len(second))
        first += [""] * (size - len(first))
        second += [""] * (size - len(second))
        label = f"{'now':<{half}}" + (f"next{wait}" if coming else "")
        pairs = zip(first, second, strict=True)
        return [Text(label), *(Text(f"{a:<{half}}{b}", "bold") for a, b in pairs)]

    def _first_chord(self, shown: Snapshot, width: int, rows: int) -> list[Text]:
        """What the tune begins with, and when: in a count-in no chord holds yet."""
        coming = shown.next_chord_beat is not None and shown.next_chord_beat <= 0.0
        chord = shown.next_chord if coming else shown.chord
        if not chord:
            return []
        left = wording.beats_left(None if shown.beat is None else -shown.beat)
        wait = "" if left is None else f", in {wording.plural(left, 'beat')}"
        return [Text(f"first{wait}"), *self._large(chord, width, rows)]

    def _large(self, text: str, width: int, rows: int) -> list[Text]:
        return [Text(line, "bold") for line in large(text, self.glyphs, width, rows)]

    def _turn(self, shown: Snapshot, width: int) -> list[Text]:
        words = wording.turn_words(shown).upper()
        label = Text(f" {words} ", "bold reverse")
        if shown.who == "player":
            label = Text(f" {self.glyphs.left * 2} {words} ", "bold reverse")
        elif shown.who == "companion":
            label = Text(f" {words} {self.glyphs.right * 2} ", "bold reverse")
        left = wording.beats_left(shown.beats_to_turn)
        coming = wording.TURNS.get(shown.next_who or "", "")
        if shown.count_in and left is not None:
            wait = f"first, in {wording.plural(left, 'beat')}"
        elif left is not None and not shown.laid_out and shown.next_who != shown.who:
            wait = f"{wording.plural(left, 'beat')} left" + (f", then {coming}" if coming else "")
        else:
            wait = ""
        on_the_right = shown.who == "companion"
        if width < WIDE:
            return [
                _placed(label, width, right=on_the_right),
                _placed(Text(wait), width, right=on_the_right),
            ]
        if on_the_right:
            return [_placed(Text(f"{wait}  ") + label, width, right=True)]
        return [label + Text(f"  {wait}")]

    def _allowed(self, shown: Snapshot, width: int) -> list[Text]:
        chord = chord_named(shown.chord)
        if chord.is_none:
            return []
        ordered = sorted(shown.strong, key=lambda pitch: (pitch - chord.root) % 12)
        rows = []
        for sign, colour, wanted in (
            (self.glyphs.tone, BLUE, True),
            (self.glyphs.tension, BROWN, False),
        ):
            named = [
                f"{spell(pitch + 60, chord)[:-1] or COMMON_NAMES[pitch]} {chord.degree(pitch)}"
                for pitch in ordered
                if (pitch in chord.tones) is wanted
            ]
            if named:
                rows.append(Text(sign, colour) + Text(" " + "  ".join(named)))
        together = Text("allowed  ") + Text("   ").join(rows)
        return [together] if together.cell_len <= width else rows

    def _phrase(
        self, who: str, phrase: Phrase | None, shown: Snapshot, width: int, most: int
    ) -> list[Text]:
        if phrase is None or not phrase.notes:
            return []
        beat = shown.beat or 0.0
        total = count_systems(phrase, self.story, self.glyphs, width)
        part = f" {self.glyphs.more}" if total > most else ""
        mine = phrase.develops and phrase.answers is None
        taken = f"{phrase.origin}, {phrase.develops}" if mine else phrase.develops
        words = [f"{who}: {wording.plural(len(phrase.notes), 'note')}{part}", taken]
        title = self._joined(words)
        if len(title) > width and most == 1:
            title = textwrap.shorten(title, width, placeholder=self.glyphs.more)
        head = _wrapped(title, width, indent=2)
        return [*head, *systems(phrase, self.story, self.glyphs, width, most, beat)]

    def _legend(self, reply: Phrase | None, width: int) -> list[Text]:
        """Name the marks that occur in the reply."""
        if reply is None:
            return []
        found = {note.role for note in reply.notes}
        line = Text()
        for role in _ROLES:
            if role in found:
                up, down = (self.glyphs.mark(role, upwards=way) for way in (True, False))
                sign = up if up == down else up + down
                line.append(sign, COLOURS.get(role, ""))
                line.append(f" {role}   ")
        line.rstrip()
        return [line] if 0 < line.cell_len <= width else []

    def _news(self, width: int, most: int) -> list[Text]:
        lines: list[Text] = []
        for text in reversed(self.news):
            fresh = _wrapped(f"{self.glyphs.dot} {text}", width, indent=2)
            if lines and len(lines) + len(fresh) > most:
                break
            lines += fresh
        return lines


def _fitted(blocks: Sequence[Block], height: int) -> list[Text]:
    """Return the lines of the blocks that fit, in order: the least needed are left out."""
    kept = list(blocks)
    while len(kept) > 1 and sum(len(block.lines) for block in kept) > height:
        kept.remove(min(reversed(kept), key=lambda block: block.need))
    return [line for block in kept for line in block.lines][: max(0, height)]


def _wrapped(text: str, width: int, indent: int = 0) -> list[Text]:
    lines = textwrap.wrap(text, width, subsequent_indent=" " * indent)
    return [Text(line) for line in lines]


def _wait(shown: Snapshot) -> str:
    """Return how long it is to the next chord, with a blank before it."""
    if shown.next_chord_beat is None or shown.beat is None:
        return ""
    left = wording.beats_left(shown.next_chord_beat - shown.beat)
    return f" in {wording.plural(left or 0, 'beat')}"


def _placed(line: Text, width: int, *, right: bool) -> Text:
    return Text(" " * max(0, width - line.cell_len)) + line if right else line


def _cut(line: Text, width: int) -> Text:
    line = line.copy()
    line.truncate(width)
    line.no_wrap = True
    return line
