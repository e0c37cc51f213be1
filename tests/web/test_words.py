"""Every word a person reads is in the catalogue, and the pages carry nothing that browsers are told to refuse."""

from __future__ import annotations

import functools
import re
import string
from importlib import resources
from pathlib import Path

import pytest

from rollsound.errors import InputError
from rollsound.web.words import catalogue, w

WEB = Path(str(resources.files("rollsound.web")))
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
SCRIPTS = sorted(WEB.joinpath("static/js").rglob("*.js"))
READ_ATTRIBUTES = ("aria-label", "title", "placeholder", "alt", "data-label", "aria-description")


def without_code(text: str) -> str:
    """A template's own letters: what Jinja puts in is taken out."""
    return re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", text, flags=re.S)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_templates_have_no_words_of_their_own(path: Path) -> None:
    plain = without_code(path.read_text("utf-8"))
    for name in READ_ATTRIBUTES:
        assert not re.search(rf'\b{name}="[^"]*[A-Za-z]', plain), name
    between = re.sub(r"<(script|style|title|svg)\b.*?</\1>|<!.*?>|<[^>]*>", " ", plain, flags=re.S)
    assert re.findall(r"[A-Za-z]{2,}", between) == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_templates_have_no_inline_script_or_style(path: Path) -> None:
    text = path.read_text("utf-8")
    assert not re.search(r"\sstyle=|\son[a-z]+=|<style|javascript:|\bhx-on|\bjs:", text)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text))
    assert "| safe" not in text
    assert "|safe" not in text


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_scripts_draw_no_markup_from_text(path: Path) -> None:
    text = path.read_text("utf-8")
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", text)


def test_every_key_that_is_used_is_there() -> None:
    used = set()
    for path in [*TEMPLATES, *WEB.rglob("*.py")]:
        used |= set(re.findall(r"""\bw\(\s*["']([a-z]+\.[a-z_0-9]+)["']\s*[,)]""", path.read_text("utf-8")))
    assert len(used) > 50
    assert used - set(catalogue()) == set()


def _is_used(key: str, templates_and_code: str, scripts: str) -> bool:
    """Whether something asks for a key: by its whole name, or by one that is put together of parts."""
    part, _, name = key.partition(".")
    if name in ("title", "nav"):
        return True
    if name.startswith("js_"):
        told = name.removeprefix("js_").removesuffix("_one")
        return f'"{part}.{told}"' in scripts or f"}}.{told}`" in scripts or f'told("{told}")' in scripts
    whole = f"{part}.{name}"
    if f'"{name}"' in templates_and_code or (whole in _tokens(templates_and_code)):
        return True
    if f'".{name}"' in templates_and_code or f"'.{name}'" in templates_and_code:  # of a form that several pages share
        return True
    begun = _begun(templates_and_code)
    begins = [name[:at] for at, letter in enumerate(name, 1) if letter == "_"]
    return any((each_part, each) in begun for each_part in ("", part) for each in begins)


@functools.cache
def _tokens(templates_and_code: str) -> frozenset[str]:
    """Every two words that stand with a dot between them."""
    return frozenset(re.findall(r"(?=\b(\w+\.\w+)\b)", templates_and_code))


@functools.cache
def _begun(templates_and_code: str) -> frozenset[tuple[str, str]]:
    """Parts and beginnings of keys that are put together."""
    return frozenset(re.findall(r"""["']([a-z]*)\.([a-z_0-9]+)(?:["']\s*[~+]|{)""", templates_and_code))


def test_every_key_that_is_there_is_used() -> None:
    code = "\n".join(path.read_text("utf-8") for path in [*TEMPLATES, *WEB.rglob("*.py")])
    scripts = "\n".join(path.read_text("utf-8") for path in SCRIPTS)
    assert not _is_used("frame.js_never_said", code, scripts)
    assert not _is_used("radio.never_said", code, scripts)
    assert [key for key in catalogue() if not _is_used(key, code, scripts)] == []


def test_every_page_has_its_title_and_name() -> None:
    from rollsound.web.pages import PAGES

    for page in PAGES:
        assert w(f"{page.name}.title")
        assert w(f"{page.name}.nav")


@pytest.mark.parametrize("key", sorted(catalogue()))
def test_words_are_plain(key: str) -> None:
    found = catalogue()[key]
    for text in found.values() if isinstance(found, dict) else [found]:
        assert "!" not in text
        list(string.Formatter().parse(text))
    if isinstance(found, dict):
        assert set(found) == {"one", "other"}


def test_a_key_that_is_missing_says_so() -> None:
    with pytest.raises(InputError, match=r"words/frame\.toml"):
        w("frame.nothing_of_that_name")
