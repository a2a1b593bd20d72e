"""Styles based on another: what is taken over, and what is refused."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from jam.core.setup import Setup
from jam.errors import InputError
from jam.session.copies import write_copies
from jam.session.resources import find_config, find_style
from jam.styles.inherit import MOST, Finder
from jam.styles.loader import load_style, reload
from jam.styles.profile import Style
from jam.styles.text import describe

PARENT = """name: parent
about: the one below
instrument: trumpet
rhythm:
  density: 1.1
  rests: 0.3
idea:
  literal: 0.2
  moves: {invert: 0.9, quote: 0.8}
landing: [7, 3]
"""


def finder(texts: Mapping[str, str]) -> Finder:
    """Return what finds a text by name, and says so when there is none."""

    def find(name: str, asking: str) -> tuple[str, str]:
        if name not in texts:
            raise InputError(f"style {name}", "not known", "Did you mean `parent`?")
        return texts[name], f"{name}.yaml"

    return find


def child(body: str, name: str = "child", parent: str = "parent") -> str:
    return f"name: {name}\nabout: a try\nbased_on: {parent}\n{body}"


def loaded(body: str, **others: str) -> Style:
    return load_style(child(body), "child.yaml", finder({"parent": PARENT, **others}))


def test_what_is_not_said_is_as_it_is_below() -> None:
    """Blocks are joined key by key, lists replaced, name and description kept apart."""
    style = loaded("rhythm:\n  rests: 0.1\nidea:\n  moves: {invert: 0.1}\nlanding: [1]\n")
    assert (style.name, style.about) == ("child", "a try")
    assert (style.rhythm.density, style.rhythm.rests) == (1.1, 0.1)
    assert (style.idea.literal, style.idea.moves["invert"]) == (0.2, 0.1)
    assert style.idea.moves["quote"] == 0.8
    assert style.landing == ["1"]
    assert style.instrument.name == "trumpet"


def test_an_instrument_is_narrowed_or_replaced_whole() -> None:
    """A range narrows the instrument below; another name brings its own range along."""
    narrow = loaded("instrument: {high: 74}\n").instrument
    assert (narrow.name, narrow.low, narrow.high) == ("trumpet", 52, 74)
    other = load_style(
        child("instrument: {name: flute, high: 90}\n"),
        "child.yaml",
        finder({"parent": PARENT.replace("trumpet", "{name: trumpet, low: 55}")}),
    ).instrument
    assert (other.name, other.low, other.high) == ("flute", 60, 90)


def test_a_whole_style_needs_no_other_to_be_read_again() -> None:
    """What is told of a style that is based on another stands by itself and is the same."""
    style = loaded("rhythm:\n  rests: 0.1\n")
    assert load_style(describe(style), "told.yaml") == style


def test_a_chain_is_followed_down() -> None:
    """A style based on one that is based on a third has what the third says."""
    style = load_style(
        child("growth: 1\n", parent="middle"),
        "child.yaml",
        finder({"middle": child("idea: {literal: 0.5}\n", "middle"), "parent": PARENT}),
    )
    assert (style.growth, style.idea.literal, style.rhythm.density) == (1.0, 0.5, 1.1)


def test_a_chain_may_be_so_long_and_no_longer() -> None:
    """`MOST` styles stand on one another; one more is refused where it is asked for."""
    chain = {f"s{n}": child("", f"s{n}", f"s{n + 1}") for n in range(MOST + 1)}
    good = chain | {f"s{MOST - 1}": PARENT}
    assert load_style(good["s0"], "s0.yaml", finder(good)).landing == ["7", "3"]
    bad = chain | {f"s{MOST}": PARENT}
    with pytest.raises(InputError) as caught:
        load_style(bad["s0"], "s0.yaml", finder(bad))
    assert (caught.value.field, caught.value.line) == ("based_on", 3)
    assert str(MOST) in caught.value.mend


@pytest.mark.parametrize(
    ("texts", "source", "problem", "mend"),
    [
        ({"child": child("", parent="child")}, "child.yaml", "itself", "on its own"),
        (
            {"child": child("", parent="b"), "b": child("", "b", "child")},
            "b.yaml",
            "in turn",
            "on its own",
        ),
        ({"child": child("", parent="parnt")}, "child.yaml", "not known", "`parent`"),
    ],
    ids=["itself", "circle", "unknown"],
)
def test_what_cannot_be_based_on_is_one_error(
    texts: dict[str, str], source: str, problem: str, mend: str
) -> None:
    """It names the file that asks, the line, the field and what mends it."""
    with pytest.raises(InputError) as caught:
        load_style(texts["child"], "child.yaml", finder(texts))
    error = caught.value
    assert (error.source, error.line, error.field) == (source, 3, "based_on")
    assert problem in error.problem
    assert mend in error.mend


def test_without_others_at_hand_it_is_refused_in_words() -> None:
    """A text alone cannot be based on anything."""
    with pytest.raises(InputError, match="write it out whole"):
        load_style(child(""), "child.yaml")


def test_a_mistake_is_told_where_it_stands() -> None:
    """In the file below with its own line, in the file itself with that one's."""
    texts = {"parent": PARENT.replace("density: 1.1", "density: 11")}
    with pytest.raises(InputError) as below:
        load_style(child(""), "child.yaml", finder(texts))
    assert (below.value.source, below.value.line) == ("parent.yaml", 5)
    with pytest.raises(InputError) as above:
        loaded("rhythm:\n  rests: 3\n")
    assert (above.value.source, above.value.line) == ("child.yaml", 5)
    with pytest.raises(InputError) as between:
        loaded("instrument: {low: 80}\n")  # good alone, not with a trumpet that ends at 82
    assert (between.value.source, between.value.line) == ("child.yaml", 4)


def test_a_name_is_never_taken_over() -> None:
    """Each style says itself what it is called and what it is."""
    with pytest.raises(InputError) as caught:
        load_style("based_on: parent\n", "child.yaml", finder({"parent": PARENT}))
    assert caught.value.field in ("name", "about")


def test_your_own_may_be_based_on_the_one_it_hides(tmp_path: Path) -> None:
    """`bop` in the user's folder stands on the built-in `bop`; a neighbour goes before both."""
    folder = tmp_path / "styles"
    folder.mkdir()
    (folder / "bop.yaml").write_text(child("growth: 0.9\n", "bop", "bop"))
    mine = find_style("bop", tmp_path).value
    whole = find_style("bop").value
    assert mine.growth == 0.9
    assert mine.lines == whole.lines
    (folder / "late.yaml").write_text(child("", "late", "bop"))
    assert find_style("late", tmp_path).value.growth == 0.9


def test_a_session_copy_stands_on_its_own(tmp_path: Path) -> None:
    """What a session used lies whole in its folder: no other style is needed to read it."""
    wanted = find_style("dusk").value
    setup = Setup(seed=1, style=wanted, styles=(wanted, find_style("tangle").value))
    write_copies(tmp_path, setup, find_config().value, None)
    for name, style in (("style.yaml", wanted), ("style-2.yaml", setup.styles[1])):
        assert load_style((tmp_path / name).read_text("utf-8"), name) == style


def test_a_style_is_read_again_or_stays_as_it_was() -> None:
    """A good text takes the old one's place; a broken one leaves it and says what is wrong."""
    old = loaded("")
    new, error = reload(child("growth: 1\n"), "child.yaml", old, finder({"parent": PARENT}))
    assert (new.growth, error) == (1.0, None)
    kept, error = reload(child("grwth: 1\n"), "child.yaml", old, finder({"parent": PARENT}))
    assert kept is old
    assert error is not None
    assert "child.yaml:4" in error
    assert "`growth`" in error
