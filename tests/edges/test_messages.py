"""The catalogues hold what the code says, nothing more and nothing less, and what is wrong with one is told."""

from __future__ import annotations

import ast
import gettext
import inspect
import io
import re
import tomllib
from pathlib import Path

import click
import pytest
from babel.messages.catalog import Catalog
from click.testing import CliRunner

from subbase import words
from subbase.cli import main, reader_language
from subbase.cli.reader_language import (
    CLICK_WORDS,
    asked_language,
    click_plurals,
    help_paragraphs,
    split_language,
    translated,
)
from subbase.words import LANGUAGES, language
from tests.pseudo_language import CLOSE, OPEN, pseudo
from tools import glossary
from tools.message_sources import NotAMessage, in_python
from tools.messages import amiss, amiss_in, mo_bytes, template, unsound

SOURCE = template()


def test_every_language_is_whole() -> None:
    """Every message of the code is translated, with the same fields, and no other is kept, in every language there is."""
    assert "en" in LANGUAGES
    assert [line for code in LANGUAGES if code != "en" for line in amiss(code, SOURCE)] == []


def test_messages_of_the_code_are_sound() -> None:
    """No message of the code begins or ends with a blank, or has a field without a name."""
    assert list(unsound(SOURCE)) == []


def test_texts_of_kinds_and_commands_are_messages() -> None:
    """What stands in data files, in fields of a survey and in help texts is gathered too."""
    said = {message.id for message in SOURCE}
    kinds = Path(inspect.getfile(words)).parent / "catalog" / "kinds"
    titles = {tomllib.loads(file.read_text("utf-8"))["title"] for file in kinds.glob("*.toml")}
    assert titles <= said
    assert {"24 V supply, behind the board fuse", "drain pan full", "board fuse"} & said
    assert "Find how to wire and feed the new control, and prove it." in said
    assert "Example:  subbase plan examples/03-two-transformers.yaml --out out" in said
    assert "Whether it can run on a battery alone." in said


def _one(message: str | tuple[str, str], text: str | tuple[str, ...], *, fuzzy: bool = False) -> list[str]:
    source, found = Catalog(), Catalog(locale="es")
    source.add(message)
    found.add(message, text, flags=["fuzzy"] if fuzzy else [])
    return list(amiss_in(found, source))


def test_what_is_wrong_with_a_message_is_told() -> None:
    """Not translated, fuzzy, other fields, too few forms, blanks at an end: each is told; a right one is not."""
    assert _one("{a} opens", "{a} abre") == []
    assert "not translated" in _one("{a} opens", "")[0]
    assert "fuzzy" in _one("{a} opens", "{a} abre", fuzzy=True)[0]
    assert "fields in braces are b, not a" in _one("{a} opens", "{b} abre")[0]
    assert "fields in braces are none, not a" in _one("{a} opens", "abre")[0]
    assert "blanks at an end" in _one("{a} opens", "{a} abre ")[0]
    assert _one(("{n} step", "{n} steps"), ("un paso", "{n} pasos")) == []
    assert "needs 2 forms" in " ".join(_one(("{n} step", "{n} steps"), ("{n} pasos",)))


def test_missing_unused_and_obsolete_messages_are_told() -> None:
    """A catalogue with other messages than the code's says which."""
    source, found = Catalog(), Catalog(locale="es")
    source.add("here")
    found.add("gone", "ido")
    assert [line.partition(":")[0] for line in amiss_in(found, source)] == ["not in the catalogue", "not used any more"]


def test_message_made_of_pieces_is_refused(tmp_path: Path) -> None:
    """An f-string, or texts added up, inside a message is told with its line: no catalogue can hold it."""
    file = tmp_path / "bad.py"
    file.write_text('x = 1\n_(f"{x} opens")\n', "utf-8")
    with pytest.raises(NotAMessage, match=r"bad\.py:2"):
        list(in_python(file))


def test_glossary_page_is_as_the_terms_have_it() -> None:
    """The page that people read comes from the table that translations keep to, and every term says where it is from."""
    assert glossary.PAGE.read_text("utf-8") == glossary.page()
    terms = tomllib.loads(glossary.TERMS.read_text("utf-8"))["term"]
    assert len(terms) >= 150
    assert all(term["en"] and term["es"] and term["source"] and term["kind"] in glossary.KINDS for term in terms)
    assert len({term["en"] for term in terms}) == len(terms)


def _all_commands(group: click.Command) -> list[click.Command]:
    below = list(group.commands.values()) if isinstance(group, click.Group) else []
    return [group, *(command for child in below for command in _all_commands(child))]


def test_every_help_text_is_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Help of every command and option is shown in the reader's language, paragraph by paragraph."""
    with pseudo(monkeypatch):
        for command in _all_commands(translated(main)):
            for __, said in help_paragraphs(command.help or ""):
                assert said.startswith(OPEN), command.name
                assert said.endswith(CLOSE), command.name
            texts = [option.help for option in command.params if isinstance(option, click.Option) and option.help]
            assert all(text.startswith(OPEN) for text in texts), command.name


def test_help_in_english_stays_as_it_is() -> None:
    """English needs no copy of the commands."""
    with language("en"):
        assert translated(main) is main


def test_what_click_says_is_in_the_catalogue() -> None:
    """Every sentence of click that is kept for translators is one that this click has."""
    said: set[str] = set()
    for file in Path(inspect.getfile(click)).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("_", "ngettext"):
                said.update(str(arg.value) for arg in node.args[:2] if isinstance(arg, ast.Constant))
    assert {*CLICK_WORDS, *click_plurals(1), *click_plurals(2)} <= said


@pytest.mark.parametrize(
    ("environment", "code"),
    [
        ({}, "en"),
        ({"LANG": "C.UTF-8"}, "en"),
        ({"LC_ALL": "xx_US.UTF-8", "LANG": "en_US"}, "xx"),
        ({"LANGUAGE": "zz:xx"}, "xx"),
    ],
)
def test_language_comes_from_the_environment(
    environment: dict[str, str], code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first of the usual variables that says a language decides, and one that is not there is English."""
    monkeypatch.setitem(words.LANGUAGES, "xx", "Pseudo")
    assert asked_language(environment) == code


def test_language_option_may_stand_anywhere() -> None:
    """``--language`` is heard before and behind the command, and not behind a bare ``--``."""
    assert split_language(["plan", "a.yaml", "--language", "xx"]) == (["--language", "xx", "plan", "a.yaml"], "xx")
    assert split_language(["--language=xx", "plan"]) == (["--language", "xx", "plan"], "xx")
    assert split_language(["plan", "--", "--language", "xx"])[1] is None
    assert CliRunner().invoke(main, ["plan", "x.yaml", "--language", "qq"]).exit_code == 2


def test_command_speaks_the_language_of_its_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """LC_ALL turns what a command says, and JSON stays English."""
    monkeypatch.setitem(words.LANGUAGES, "xx", "Pseudo")
    monkeypatch.setattr(words, "_catalogue", lambda _code: _Shouted())
    environment = {"LC_ALL": "xx_XX.UTF-8", "LANGUAGE": ""}
    said = CliRunner().invoke(main, ["kinds"], env=environment).output
    assert "GAS FURNACE" in said
    said = CliRunner().invoke(main, ["kinds", "--json"], env=environment).output
    assert "Gas furnace" in said
    assert CliRunner().invoke(main, ["--help"], env=environment).output.count("FIND HOW TO WIRE") == 1


class _Shouted(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return message.upper()


def test_the_word_over_cautions_is_in_every_language() -> None:
    """The style sheet writes it, so it stands there once for each language."""
    style = (Path(words.__file__).parent / "web" / "static" / "page.css").read_text("utf-8")
    said = {code for code in LANGUAGES if f".caution:lang({code})::before" in style}
    assert said == set(LANGUAGES) - {"en"}
    assert re.findall(r'content: "([A-Za-z]\w+)"', style) == ["CAUTION", "PRECAUCIÓN"]


def test_click_speaks_the_same_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Headings of help, and what click says of a wrong call, come from the same catalogue file as all else."""
    catalog = Catalog(locale="es")
    for said in CLICK_WORDS:
        catalog.add(said, f"<{said}>", flags=["python-format"] if "%(" in said else [])
    file = tmp_path / "es" / "LC_MESSAGES" / "subbase.mo"
    file.parent.mkdir(parents=True)
    file.write_bytes(mo_bytes(catalog))
    monkeypatch.setitem(words.LANGUAGES, "es", "Spanish")
    spoken = gettext.GNUTranslations(io.BytesIO(file.read_bytes()))
    monkeypatch.setattr(words, "_catalogue", lambda _code: spoken)
    monkeypatch.setattr(reader_language, "LOCALE", tmp_path)
    assert "Show this message and exit." in CliRunner().invoke(main, ["plan", "--help"]).output
    environment = {"LC_ALL": "es_MX.UTF-8", "LANGUAGE": ""}
    said = CliRunner().invoke(main, ["plan", "--help"], env=environment).output
    assert "<Usage:>" in said
    assert "<Options>" in said
    assert "<Show this message and exit.>" in said
    assert "<Missing argument>" in CliRunner().invoke(main, ["plan"], env=environment).output
    assert "Usage:" in CliRunner().invoke(main, ["plan", "--help"]).output
