"""The same searches find the same parts in the same order on SQLite and on PostgreSQL.

Source: none needed: SQLite's index is the reference, and it is asked the same.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.connections import read_connection
from server.domain.observer import Holding
from server.domain.parts import Filter, FilterWheel, Part, Shim
from server.flow.protocols import PartQuery
from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.store import Stores, open_stores, prepare_database
from server.store.dialects import tokens_of
from tests.postgres import new_database
from tests.store.conftest import ring

# Letters with marks, in one sign and in two; letters that fold and do not; digits of other scripts, signs.
ODD = (
    "Łódź Ångström ångström A\u030angstro\u0308m Straße STRASSE ﬁlter İstanbul ISTANBUL ıstanbul ΣΊΣΥΦΟΣ "
    "σίσυφος ς Ελλάς Ж й и\u0306 Ǆ ǆ ǅ Ω Ω K K "
    "東京 とうきょう 各務 ²x x² ½ ٣ ৪ Ⅷ ⅷ æ Æ ø Ø đ ð þ ŉ ǰ ẖ ẞ ß ﬀ\u0301 "
    "e\u0301\u0302 \u0301start mid\u200bdle soft\u00adhyphen zero\u200djoin under_score hy-phen dot.ted 0,75 "
    '1e5 0x1F 3.14 a\'b "q" A&B c++ #7 50% \U0001f52dtube tube\U0001f52d \U00010400 \U00010428 ﷺ ǈ ȷ ⱥ Ⱥ '
    "ᲀ Ა ა ꙰ M48×0,75 M48x0.75 M42x1 T2 F/5.6 f/5 90° 3″ 1¼ 1.25\" 2'' Ⅻa a\u0303b z\u0335z \ue000x \uffff"
)
LISTED = (
    " ring r RING halden filter w m48 m48x0.75 m48×0,75 48 0.75 75 0,7 m48x0+75 m48x0.75+female female+m48 "
    'thread filter+w halden+ring+m4 "ring" ring* ri*ng NOT+ring a+OR+b NEAR(ring+5) words:ring - ″ x-ray _'
)


def parts_made() -> list[Part]:
    odd = [ring(word, note=f"{before} {word} {after}") for before, word, after in _neighbours(ODD.split())]
    many = [ring(f"Row {number:04}", "M48x0.75 male", note="plenty") for number in range(620)]
    sizes = ("M48x0.75 male", "M48x0.75 female", "M48x0.6 male", "M42x0.75", "M54x0.75 male")
    named = [
        ring(model, one, other)
        for model, (one, other) in zip(
            ["beta", "Alpha", "Gamma", "alpha", "Älpha", "Zeta", "zeta", "Éclair", "eclair", "Ört"],
            itertools.cycle(itertools.permutations(sizes, 2)),
            strict=False,
        )
    ]
    return [
        *odd,
        *many,
        *named,
        Filter(model="Red"),
        FilterWheel(model="Wheel"),
        Shim(maker="andal", model="Z"),
    ]


def _neighbours(words: list[str]) -> Iterator[tuple[str, str, str]]:
    return zip(words, words[1:], words[2:], strict=False)


@pytest.fixture(scope="module")
def both(postgres: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Stores]]:
    places: list[Path | str] = [
        tmp_path_factory.mktemp("alike") / "trainwright.sqlite3",
        new_database(postgres, "alike"),
    ]
    opened = []
    parts = parts_made()
    for place in places:
        prepare_database(place)
        stores = open_stores(place)
        opened.append(stores)
        with stores.writing() as store:
            load_demo_club(store, SEED_DATA)
            ana = store.add_observer("Ana of both", "metric")
            numbers = store.add_parts(parts, ana.id)
            store.set_holdings(ana.id, {one: Holding(owned=one % 3, wished=1) for one in numbers[::2]})
            store.change_part(numbers[3], parts[5], ana.id)
            store.remove_part(numbers[4])
    yield opened
    for stores in opened:
        stores.close()


def found(stores: Stores, query: PartQuery) -> object:
    with stores.reading() as store:
        page = store.find_parts(query)
    lines = [(line.item.id, line.item.part.name, line.item.revision, line.holding) for line in page.lines]
    return lines, page.total, page.by_name


def are_alike(both: list[Stores], text: str, **more: object) -> None:
    with both[0].reading() as store:
        observer = store.observers()[0].id
    first, second = (found(stores, PartQuery(observer, text, **more)) for stores in both)  # type: ignore[arg-type]
    assert first == second, (text, more)


def test_some_hundred_searches_find_the_same_in_the_same_order(both: list[Stores]):
    words = ODD.split()
    prefixes = {word[:length] for word in words for length in range(1, len(word) + 1)}
    pairs = [f"{one} {other}" for one, other in itertools.pairwise(words)]
    listed = [one.replace("+", " ") for one in LISTED.split(" ")]
    texts = [*listed, *sorted(prefixes), *pairs, *(word.upper() for word in words)]
    assert len(texts) > 400
    for text in texts:
        are_alike(both, text, limit=200)


@pytest.mark.parametrize("text", ["", "plenty", "row 00", "halden m48x0.75 m", "ring"])
@pytest.mark.parametrize("holding", ["catalogue", "shelf", "owned", "considered"])
def test_searches_that_are_narrowed_are_alike_page_by_page(both: list[Stores], text: str, holding: str):
    male = read_connection("M48x0.75 male")
    narrowed: list[dict[str, object]] = [
        {}, {"kind": "spacer_ring"}, {"kind": "filter"}, {"kind": "*"}, {"connection": male},
        {"connection": read_connection("M48")}, {"mates_with": male, "kind": "spacer_ring"},
    ]  # fmt: skip
    for more in narrowed:
        for offset in (0, 150, 600):
            are_alike(both, text, holding=holding, offset=offset, limit=100, **more)


@given(st.text(max_size=40) | st.lists(st.sampled_from(ODD.split()), max_size=4).map(" ".join))
def test_whatever_is_typed_finds_the_same(both: list[Stores], text: str):
    are_alike(both, text)


def test_what_is_remembered_and_what_is_listed_is_alike(both: list[Stores]):
    assert listed(both[0]) == listed(both[1])


def listed(stores: Stores) -> list[object]:
    with stores.reading() as store:
        return [
            (
                one,
                store.remembered(one.id),
                [(rig.id, rig.name, rig.version, rig.entries) for rig in store.rigs(one.id)],
                [site.site for site in store.sites(one.id)],
                [(target.name, target.target) for target in store.targets(one.id)],
                [kept.needs for kept in store.kept_needs(one.id)],
                [(entry.rig, entry.title) for entry in store.entry_names(one.id)],
            )
            for one in store.observers()
        ]


@given(st.text(max_size=60))
def test_tokens_have_nothing_that_a_question_would_read_as_syntax(text: str):
    plain = text.encode("utf-8", "ignore").decode()
    assert not any(set("' :*&|!<>()\\") & set(token) for token in tokens_of(plain))
