"""What is made in the background: said to be on its way, remembered, never half-made."""

from __future__ import annotations

import threading

import pytest

from subbase.web.slow import MOST, NotYet, Slow, Told
from subbase.words import LANGUAGES, current_language, language


def test_what_is_not_there_yet_says_what_is_being_done() -> None:
    """Who asks too early is told what, since when and how far; who asks again later gets it, made once."""
    slow, told, go = Slow(), threading.Event(), threading.Event()
    made = []

    def make(tell: Told) -> str:
        tell("Breaking every part in thought.")
        told.set()
        assert go.wait(30)
        made.append(1)
        return "there"

    with pytest.raises(NotYet):
        slow.get("kind", "key", make, what="The causes", patience_s=0.0)
    assert told.wait(30)
    with pytest.raises(NotYet) as caught:
        slow.get("kind", "key", make, what="The causes", patience_s=0.0)
    assert (caught.value.what, caught.value.said) == ("The causes", "Breaking every part in thought.")
    assert caught.value.seconds >= 0.0
    go.set()
    assert slow.get("kind", "key", make, what="", patience_s=None) == "there"
    assert slow.get("kind", "key", make, what="", patience_s=0.0) == "there"
    assert made == [1]


def test_it_is_made_in_the_language_of_who_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """The thread that makes it speaks the asker's language."""
    monkeypatch.setitem(LANGUAGES, "xx", "one of the test's own")
    slow = Slow()
    with language("xx"):
        assert slow.get("kind", "xx", lambda _: current_language(), what="", patience_s=None) == "xx"
    assert slow.get("kind", "en", lambda _: current_language(), what="", patience_s=None) == "en"


def test_a_failure_is_told_and_tried_anew() -> None:
    """What went wrong reaches whoever asked, and is not remembered."""
    slow, tries = Slow(), []

    def make(_: Told) -> str:
        tries.append(1)
        if len(tries) == 1:
            raise ValueError("broken")
        return "whole"

    with pytest.raises(ValueError, match="broken"):
        slow.get("kind", "key", make, what="", patience_s=None)
    assert slow.get("kind", "key", make, what="", patience_s=None) == "whole"


def test_the_oldest_results_are_let_go() -> None:
    """Only a few large results are kept; what was asked for last stays."""
    slow = Slow()
    made: list[str] = []

    def make(key: str) -> str:
        def work(_: Told) -> str:
            made.append(key)
            return key

        return slow.get("diagnosis", key, work, what="", patience_s=None)

    for number in range(MOST["diagnosis"] + 2):
        make(str(number))
    made.clear()
    assert make(str(MOST["diagnosis"] + 1)) == str(MOST["diagnosis"] + 1)
    assert not made
    make("0")
    assert made == ["0"]
