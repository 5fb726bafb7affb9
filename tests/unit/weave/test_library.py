"""The shipped weaves are found by every name they go by, and nothing else is."""

from __future__ import annotations

import pytest

from chainplan.errors import InputError
from chainplan.weave.library import LIBRARY_FOLDER, list_names, load_weave, weave_keys


def test_every_weave_is_found_by_key_title_and_trade_name():
    """Names are unique over the whole library: one name, one weave."""
    for key in weave_keys():
        weave = load_weave(key)
        assert weave.key == key
        for name in (weave.title, *weave.trade_names):
            assert load_weave(name).key == key


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("European 4 in 1", "european-4-in-1"),
        ("EUROPEAN_4IN1", "european-4-in-1"),
        ("2-in-2", "double-link"),
        ("jpl3", "jens-pind-3"),
        (" byzantine ", "byzantine"),
    ],
)
def test_case_spaces_and_hyphens_do_not_matter(said, key):
    """Makers write names in many ways."""
    assert load_weave(said).key == key


def test_unknown_name_is_refused_with_the_nearest_one():
    """A slip of the pen gets a hint."""
    with pytest.raises(InputError, match=r"'byzantin'; did you mean 'Byzantine'"):
        load_weave("byzantin")


def test_missing_file_and_broken_toml_are_told(tmp_path):
    """A path is tried as a file, never as a name."""
    with pytest.raises(InputError, match="no such file"):
        load_weave(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("key = ", encoding="utf-8")
    with pytest.raises(InputError, match="not TOML"):
        load_weave(str(broken))


def test_own_file_is_read_like_a_shipped_one(tmp_path):
    """The same reader serves both."""
    text = (LIBRARY_FOLDER / "box-chain.toml").read_text(encoding="utf-8")
    own = tmp_path / "my-box.toml"
    own.write_text(text.replace('key = "box-chain"', 'key = "my-box"'), encoding="utf-8")
    assert load_weave(own).key == "my-box"
    assert load_weave(str(own)).data == load_weave("box-chain").data


@pytest.mark.parametrize("key", weave_keys())
def test_every_weave_says_its_source_and_marks_bare_trade_use(key):
    """No weave without a word on where its name and pattern come from."""
    weave = load_weave(key)
    assert weave.notes
    grades = ("no source", "makers'", "maker's", "exact mathematics")
    assert any(word in weave.source for word in grades), (
        f"{key}.toml: 'source' says on what name and pattern rest, in one of the words {grades}"
    )


def test_no_two_weaves_go_by_one_name():
    """What people call a weave finds one of them."""
    assert len(set(list_names().values())) == len(weave_keys())
