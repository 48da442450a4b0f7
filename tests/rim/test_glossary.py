"""The list of words that pages explain. Source: none needed; the sentences are the project's own."""

from __future__ import annotations

import re

import pytest

from server import paths
from server.domain.parts import KINDS, specs_of
from server.rim.glossary import OURS, TRADE, WORDS, Word, word_at
from server.rim.rules import RULE_SPECS
from server.rim.sky_forms import SITE_SPECS, TARGET_SPECS
from server.rim.sky_query import QUERY_SPECS
from server.rim.sky_wishes import WISH_SPECS as SKY_SPECS
from server.rim.star_wishes import WISH_SPECS
from server.web.stars.page import ROWS

MOST_WORDS = 40
SET_BY_KEY = re.compile(r"""\bword\("([^"]+)\"""")

TEMPLATES = {file: file.read_text("utf-8") for file in paths.TEMPLATES.rglob("*.html")}


@pytest.mark.parametrize("one", WORDS.values(), ids=WORDS)
def test_a_word_is_explained_in_a_sentence_or_two(one: Word) -> None:
    assert one.says.endswith(".")
    assert len(one.says.split()) <= MOST_WORDS
    assert re.fullmatch(r"[a-z-]+", one.key)


def test_a_word_of_the_trade_says_where_it_stands_and_they_are_in_order() -> None:
    assert all(one.source.endswith(".") for one in TRADE)
    assert not any(one.source for one in OURS)
    assert [one.key for one in TRADE] == sorted(one.key for one in TRADE)
    assert len(WORDS) == len(OURS) + len(TRADE)


def test_every_word_that_a_page_sets_is_in_the_list() -> None:
    used = [key for text in TEMPLATES.values() for key in SET_BY_KEY.findall(text)]
    assert len(used) >= 6
    assert set(used) <= set(WORDS)


def test_every_label_that_has_a_note_is_one_that_a_page_shows() -> None:
    sky = (*SITE_SPECS, *TARGET_SPECS, *SKY_SPECS, *QUERY_SPECS)
    specs = [*RULE_SPECS, *WISH_SPECS, *sky, *(spec for kind in KINDS for spec in specs_of(kind))]
    shown = {spec.label for spec in specs} | set(ROWS)
    labels = [label for one in WORDS.values() for label in one.labels]
    assert set(labels) <= shown
    assert len(labels) == len(set(labels))
    assert word_at("Flange distance") is WORDS["flange-distance"]
    assert word_at("Maker") is None


DOUBLE = re.compile(r"weigh(?:s|ed|ing)? up|under consideration", re.IGNORECASE)


def test_what_one_considers_has_no_second_name() -> None:
    sources = {file: file.read_text("utf-8") for file in (paths.ROOT / "server").rglob("*.py")}
    assert [str(file) for file, text in {**TEMPLATES, **sources}.items() if DOUBLE.search(text)] == []
