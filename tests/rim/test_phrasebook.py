"""The phrasebook: each clause that is said has words, each has one who says it, and each can be written.

Source: none needed; the sentences are the project's own.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from itertools import product

import pytest

from server import paths
from server.domain.checks.registry import CHECKS
from server.domain.findings import Amount
from server.domain.said import Fact, Named, Quantity, Said
from server.rim.phrasebook.book import MODULES, TITLES, WORDS, WORKINGS
from server.rim.phrasebook.forms import Nodes, PhraseError, Slot, Writer, listed, read_clause, write_shared
from server.rim.phrasebook.tell import plain, sentence_of, title_of
from server.rim.wording import write_phrase

SERVER = paths.TEMPLATES.parent / "server"
SAYING = ("domain", "flow", "search", "web", "api", "rim", "cli", "store")
OF_THE_TRADE = re.compile(
    r"48 mm filter (?:threads|cells)|\d+ mm (?:round|square)|\d in mounted|on 62 mm|mm²"
)
"""Sizes that the trade names in millimetres, whoever reads."""
LENGTH = Amount(value=12.3456, dimension="length", digits=2)


@cache
def strings() -> tuple[frozenset[str], frozenset[str]]:
    """All string constants of the code but the phrasebook's, and what f-strings begin with."""
    whole, begins = set(), set()
    for file in (one for folder in SAYING for one in (SERVER / folder).rglob("*.py")):
        if "phrasebook" in file.parts and file.name != "tell.py":
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            elif isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                begins.add(str(node.values[0].value))
    for file in paths.TEMPLATES.rglob("*.html"):
        whole |= set(re.findall(r'"([a-z_.]+)"', file.read_text(encoding="utf-8")))
    return frozenset(whole), frozenset(
        one for one in begins if re.fullmatch(r"[a-z_]+\.(?:[a-z_]+\.?)?", one)
    )


def test_every_clause_is_said_by_somebody() -> None:
    whole, begins = strings()
    of_actions = {"act.add", "act.remove", "act.set_length"}
    unsaid = [key for key in WORDS if key not in whole | of_actions and not key.startswith(tuple(begins))]
    assert unsaid == []


def test_every_clause_that_is_said_has_words() -> None:
    """`said` with a key that is a constant; those put together are met by the checks' own tests."""
    lacking = set()
    for file in SERVER.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("said", "Said") and node.args:
                key = node.args[0]
                for one in (key.body, key.orelse) if isinstance(key, ast.IfExp) else (key,):
                    if isinstance(one, ast.Constant) and one.value not in WORDS:
                        lacking.add(one.value)
    assert lacking == set()


def test_no_two_modules_say_the_same_clause() -> None:
    keys = [key for module in MODULES for key in module.WORDS]
    assert len(keys) == len(set(keys)) == len(WORDS) - len(TITLES)


def test_every_check_has_a_title_and_a_working() -> None:
    for check in CHECKS:
        assert title_of(f"{check.name}.outside")
        assert check.name in WORKINGS, check.name
    for key in (*TITLES, *WORKINGS):
        whole, begins = strings()
        known = {check.name for check in CHECKS} | {"none", "stars"} | whole
        assert key in known or key.startswith(tuple(begins)), key


def slots_of(nodes: Nodes) -> Iterator[Slot]:
    for one in nodes:
        if isinstance(one, Slot):
            yield one
            for _, inner in one.options:
                yield from slots_of(inner)


def literals_of(nodes: Nodes) -> Iterator[str]:
    for one in nodes:
        if isinstance(one, str):
            yield one
        else:
            for _, inner in one.options:
                yield from literals_of(inner)


def facts_for(key: str) -> Iterator[dict[str, Fact]]:
    """Facts for a clause: each choice of it in turn, each slot that is written a length or a list."""
    choices: dict[str, list[Fact]] = {}
    for slot in slots_of(read_clause(WORDS[key])):
        match slot.form:
            case "?":
                choices.setdefault(slot.name, [LENGTH, None])
            case "#":
                choices[slot.name] = [1, 2]
            case "=":
                words = [word for word, _ in slot.options]
                choices[slot.name] = [word or "another" for word in words]
            case _:
                choices.setdefault(slot.name, [LENGTH, ("Halden {x}", Named(1, "Quill"), LENGTH)])
    for given in list(product(*choices.values()))[:64]:
        yield dict(zip(choices, given, strict=True))


@pytest.mark.parametrize("key", sorted(WORDS))
def test_a_clause_is_written_for_both_readers_whatever_its_facts(key: str) -> None:
    for facts in facts_for(key):
        phrase = Writer(WORDS).phrase([Said(key, tuple(facts.items()))])
        metric, imperial = (write_phrase(phrase, units) for units in ("metric", "imperial"))
        for text in (metric, imperial):
            assert not re.search(r"[{}|]", text.replace("{x}", "")), text
            assert "  " not in text
        assert not re.search(r"\bmm\b", OF_THE_TRADE.sub("", imperial)), imperial
        assert ("12.35 mm" in metric) == ("0.4860 in" in imperial)


@pytest.mark.parametrize("key", sorted(WORDS))
def test_no_clause_holds_a_length_or_a_mass_of_its_own(key: str) -> None:
    for text in literals_of(read_clause(WORDS[key])):
        assert not re.search(r"\d\s?(mm|cm|kg|in|lb)\b", OF_THE_TRADE.sub("", text)), text


# -- The forms


def written(text: str, **facts: Fact) -> str:
    return write_phrase(
        Writer({"one": text, "inner": "a {part}"}).phrase([Said("one", tuple(facts.items()))]), "metric"
    )


def test_a_fact_is_written_by_what_it_is() -> None:
    assert written("{at} of {part}", at=LENGTH, part=Named(1, "Brask {5}")) == "12.35 mm of Brask {5}"
    assert written("{v}, {n}", v=Quantity(11.4, "V"), n=3) == "11.4 V, 3"
    assert written("{them}", them=("a", "b", "c")) == "a, b and c"
    assert written("{them;}", them=("a", "b")) == "a; b"
    assert written("{one^}.", one="it holds") == "It holds."
    assert written("is {inner}", inner=Said("inner", (("part", "ring"),))) == "is a ring"


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        (True, "yes"),
        (False, "no"),
        (None, "no"),
        (0, "no"),
        (2, "yes"),
        ("", "no"),
        ((), "no"),
        (("a",), "yes"),
    ],
)
def test_a_choice_goes_by_whether_its_fact_is_there(fact: Fact, said: str) -> None:
    assert written("{it?yes|no}", it=fact) == said


def test_an_amount_is_there_even_where_it_is_nothing() -> None:
    assert written("{it?yes|no}", it=Quantity(0.0, "V")) == "yes"


def test_counts_and_words_choose() -> None:
    assert [written("{n#one ring|{n} rings}", n=n) for n in (1, 2)] == ["one ring", "2 rings"]
    assert written("{them#it|them}", them=("a",)) == "it"
    assert [written("{w=a:first|b:second|none}", w=w) for w in ("a", "b", "c")] == ["first", "second", "none"]
    with pytest.raises(PhraseError, match="no words for w"):
        written("{w=a:first|b:second}", w="c")
    assert written("{it?{n#one|many} of {x}|none}", it=True, n=1, x="two") == "one of two"


def test_two_amounts_of_one_name_keep_both_numbers() -> None:
    other = Amount(value=3.0, dimension="length", digits=1)
    assert written("{them}", them=(LENGTH, other)) == "12.35 mm and 3.0 mm"


@pytest.mark.parametrize("text", ["{", "{}", "{a", "{a?b", "a}b", "{a?b|c", "{A}"])
def test_a_clause_whose_braces_do_not_match_is_refused(text: str) -> None:
    with pytest.raises(PhraseError):
        written(text, a="x")


def test_a_clause_without_words_or_without_its_fact_is_a_fault() -> None:
    with pytest.raises(PhraseError, match="no words"):
        plain(Said("nobody.says.this"))
    with pytest.raises(PhraseError, match="lacks its fact"):
        written("{a}", b="x")


def test_plain_text_holds_no_amount_that_a_reader_would_want_converted() -> None:
    where = Said("spacing.add", (("change", LENGTH),))
    with pytest.raises(PhraseError, match="reader's units"):
        plain(where)
    assert sentence_of(where, "imperial") == "Add 0.4860 in between corrector and camera."


def test_quantities_and_lists() -> None:
    assert write_shared(Quantity(0.123456, "A", figures=2)) == "0.12 A"
    assert write_shared(Quantity(55.0, "%", 0)) == "55 %"
    assert listed(()) == ""
    assert listed(("a",)) == "a"


def test_words_of_upkeep_point_to_no_other_place_since_several_pages_say_them():
    said = " ".join(text for key, text in WORDS.items() if key.startswith("upkeep."))
    assert "The faster, the more delicate." in said
    assert not re.search(r"\b(?:above|below)\b", said)
