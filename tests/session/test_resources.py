"""The finder: built-in files, the user's own over them, and names that are not known."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.errors import InputError
from jam.session import resources
from jam.session.resources import (
    data_folder,
    find_chart,
    find_config,
    find_style,
    home_folder,
    list_charts,
    list_styles,
    read_text,
)

STYLE = "name: mine\nabout: a try\n"


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_what_comes_along_is_found() -> None:
    """Styles, charts and the configuration lie where the finder looks for them."""
    assert {"bop", "lyrical"} <= {entry.name for entry in list_styles()}
    assert len(list_charts()) >= 8
    assert {entry.origin for entry in list_styles() + list_charts()} == {"built in"}


def test_a_file_of_the_users_own_takes_the_place_of_a_built_in_one(tmp_path: Path) -> None:
    """The overlay goes by name, adds new names, and hides nothing else."""
    before = {entry.name for entry in list_styles(tmp_path)}
    put(tmp_path / "styles" / "bop.yaml", STYLE.replace("mine", "bop"))
    put(tmp_path / "styles" / "late-bus.yml", STYLE.replace("mine", "late bus"))
    found = {entry.name: entry.origin for entry in list_styles(tmp_path)}
    assert set(found) == before | {"late-bus"}
    assert [name for name, origin in found.items() if origin == "your own"] == ["bop", "late-bus"]
    assert find_style("bop", tmp_path).value.about == "a try"


def test_a_style_is_called_as_its_file_is(tmp_path: Path) -> None:
    """Where styles are found by name, another name inside is one error; elsewhere it may be."""
    path = put(tmp_path / "styles" / "bar.yaml", STYLE)
    with pytest.raises(InputError) as caught:
        find_style("bar", tmp_path)
    assert (caught.value.line, caught.value.field) == (1, "name")
    assert "found 'mine'" in caught.value.problem
    assert "`name: bar`" in caught.value.mend
    with pytest.raises(InputError):
        find_style(str(path), tmp_path)
    copy = put(tmp_path / "session" / "style.yaml", STYLE)
    assert find_style(str(copy), tmp_path).value.name == "mine"


def test_the_option_goes_before_the_variable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``--home`` wins over ``JAM_HOME``, and that over the system's folder."""
    monkeypatch.setenv("JAM_HOME", str(tmp_path / "variable"))
    assert home_folder(tmp_path / "option") == tmp_path / "option"
    assert home_folder() == tmp_path / "variable"
    monkeypatch.delenv("JAM_HOME")
    assert home_folder().name == "phrase-turns"


def test_the_data_of_a_wheel_goes_before_the_repository(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An installed package looks inside itself, an editable one beside itself."""
    module = put(tmp_path / "jam" / "session" / "resources.py", "")
    monkeypatch.setattr(resources, "__file__", str(module))
    assert data_folder() == tmp_path
    (tmp_path / "jam" / "data").mkdir()
    assert data_folder() == tmp_path / "jam" / "data"


@pytest.mark.parametrize("name", ["BOP", " bop "])
def test_names_are_taken_as_they_are_typed(name: str) -> None:
    """Case and stray spaces do not matter."""
    assert find_style(name).entry.name == "bop"


def test_a_path_is_a_file(tmp_path: Path) -> None:
    """What ends like a file or has a slash is never looked up by name."""
    path = put(tmp_path / "bop.yaml", STYLE)
    assert find_style(str(path)).value.name == "mine"
    with pytest.raises(InputError, match="there is no such file"):
        find_style("bop.yaml")


@pytest.mark.parametrize("name", ["bopp", "lyricl", "sparce"])
def test_an_unknown_name_is_told_the_nearest(name: str) -> None:
    """One error with the name, the nearest there is, and where to look."""
    with pytest.raises(InputError, match=r"Did you mean `\w+`\? `jam styles` lists") as caught:
        find_style(name)
    assert name in str(caught.value)
    with pytest.raises(InputError, match="`jam charts` lists all"):
        find_chart("qqqqqq")


def test_own_configuration_is_found(tmp_path: Path) -> None:
    """A file named outright goes before the user's own, that before the built-in one."""
    assert find_config(home=tmp_path).entry.origin == "built in"
    put(tmp_path / "config" / "jam.yaml", "style: blues\n")
    assert find_config(home=tmp_path).value.style == "blues"
    other = put(tmp_path / "other.yaml", "style: modal\n")
    assert find_config(other, tmp_path).value.style == "modal"


def test_what_is_no_text_is_one_error(tmp_path: Path) -> None:
    """Missing, a folder, bytes, far too long: each is told in plain words."""
    with pytest.raises(InputError, match="no such file"):
        read_text(tmp_path / "no.yaml")
    with pytest.raises(InputError, match="folder"):
        read_text(tmp_path)
    (tmp_path / "bytes.yaml").write_bytes(b"name: \xff\xfe\n")
    with pytest.raises(InputError, match="UTF-8"):
        read_text(tmp_path / "bytes.yaml")
    (tmp_path / "long.yaml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="larger"):
        read_text(tmp_path / "long.yaml")
    with pytest.raises(InputError, match="cannot be read"):
        read_text(Path("nul\0byte.yaml"))


def test_a_byte_order_mark_is_passed_over(tmp_path: Path) -> None:
    """Editors on Windows put one in front of the text."""
    path = tmp_path / "mark.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + STYLE.encode())
    assert find_style(str(path)).value.name == "mine"


def test_only_files_beside_a_chart_are_read(tmp_path: Path) -> None:
    """A chart may name a melody in its own folder, not anything the machine holds."""
    put(tmp_path / "secret.mid", "x")
    put(tmp_path / "charts" / "tune.mid", "y")
    read = resources.beside(tmp_path / "charts" / "tune.yaml")
    assert read("tune.mid") == b"y"
    for name in ("../secret.mid", str(tmp_path / "secret.mid"), "none.mid", "."):
        with pytest.raises(OSError, match="beside"):
            read(name)
