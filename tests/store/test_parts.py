"""The catalogue and the shelves."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import IntegrityError

from server.domain.connections import read_connection
from server.domain.errors import DiskTroubleError, FieldErrors, NotFoundError, PartInUseError, RefusedError
from server.domain.measure import Measure, Money
from server.domain.observer import Holding, Observer
from server.domain.parts import (
    KINDS,
    Camera,
    Corrector,
    Filter,
    FilterWheel,
    Mount,
    OffAxisGuider,
    Part,
    PlateAndRings,
    Shim,
)
from server.flow.protocols import PartQuery, Store
from server.flow.protocols import Stores as StoresProtocol
from server.store import SqlStore, Stores, open_stores
from server.store.mapping import read_part, write_part
from server.store.searching import match_expression
from server.store.shelves import COUNTED_TO
from tests.places import Places, nothing
from tests.store.conftest import (
    CAMERA,
    TUBE,
    adapter,
    connection,
    plan_of,
    ring,
)

FULL_CORRECTOR: Part = Corrector.model_validate(
    {
        "maker": "Quill",
        "model": 'Ebener "0,8x"',
        "note": "a\nnote with \u00e9, \u2033 and \U0001f52d",
        "document": "https://example.org/leaflet",
        "basis": "maker",
        "price": {"hundredths": 123456789, "currency": "EUR"},
        "mass_kg": {"nominal": 0.1 + 0.2, "plus": 1e-9, "minus": 0.0, "basis": "measured"},
        "sky_side": read_connection("M54x0.75 male, 5 mm long"),
        "camera_side": read_connection("M48x0.75 male"),
        "factor": {"nominal": 0.8},
        "back_focus_table": [
            {"tube_focal_length_mm": 400.0, "back_focus_mm": 55.2},
            {"tube_focal_length_mm": 600.0, "back_focus_mm": 54.1},
        ],
        "for_designs": ["apochromat", "astrograph"],
        "reversible": False,
    }
)


def find(stores: Stores, observer: Observer, text: str = "", **query: object) -> list[str]:
    with stores.reading() as store:
        page = store.find_parts(PartQuery(observer.id, text, **query))  # type: ignore[arg-type]
    assert page.total == len(page.lines)
    return [line.item.part.model for line in page.lines]


def put(stores: Stores, observer: Observer, *parts: Part) -> list[int]:
    with stores.writing() as store:
        return store.add_parts(parts, observer.id)


def test_the_store_offers_what_the_flow_asks_for(stores: Stores):
    asked: StoresProtocol = stores
    with asked.reading() as store:
        offered: Store = store
        assert isinstance(offered, SqlStore)


def test_a_part_comes_back_exactly_as_it_went_in(stores: Stores, observer: Observer):
    with stores.writing() as store:
        added = store.add_part(FULL_CORRECTOR, observer.id)
    with stores.reading() as store:
        again = store.part(added.id)
    assert again.part == FULL_CORRECTOR
    assert again.part.price == Money(hundredths=123456789, currency="EUR")
    assert again.part.mass_kg == Measure(nominal=0.30000000000000004, plus=1e-9, minus=0.0, basis="measured")
    assert (again.entered_by, again.entered_by_name, again.revision) == (observer.id, "Ana", 1)


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_part_of_every_kind_makes_a_document_that_names_its_kind_and_nothing_else(kind: str):
    part = read_part(f'{{"kind":"{kind}"}}')
    assert write_part(part) == f'{{"basis":"typed","kind":"{kind}"}}'
    assert read_part(write_part(part)) == part


def test_many_parts_get_numbers_in_their_order(stores: Stores, observer: Observer):
    models = [f"R{number}" for number in range(2500)]
    numbers = put(stores, observer, *(ring(model) for model in models))
    with stores.reading() as store:
        parts = store.parts(numbers)
    assert [parts[number].part.model for number in numbers] == models


def test_a_change_is_a_new_revision_and_is_found_by_its_new_words_only(stores: Stores, observer: Observer):
    (number,) = put(stores, observer, ring("Short", "M48x0.75 male", "M48x0.75 female"))
    with stores.writing() as store:
        changed = store.change_part(number, adapter("Long", "M54x0.75 male", "M48x0.75 female"), observer.id)
    assert (changed.revision, changed.kind) == (2, "adapter")
    assert find(stores, observer, "short") == []
    assert find(stores, observer, "long") == ["Long"]
    assert find(stores, observer, "long", kind="spacer_ring") == []
    assert find(stores, observer, connection=connection("M48x0.75 male")) == []
    assert find(stores, observer, connection=connection("M54x0.75 male")) == ["Long"]


def test_a_number_is_never_given_to_a_second_part(stores: Stores, observer: Observer):
    (first,) = put(stores, observer, ring("A"))
    with stores.writing() as store:
        store.remove_part(first)
    (second,) = put(stores, observer, ring("B"))
    assert second > first


def test_a_part_that_says_the_same_word_for_word_is_known(stores: Stores, observer: Observer):
    first, _ = put(stores, observer, FULL_CORRECTOR, FULL_CORRECTOR)
    with stores.reading() as store:
        same = store.same_part(FULL_CORRECTOR)
        assert same is not None
        assert same.id == first
        other = FULL_CORRECTOR.model_copy(update={"note": "other"})
        assert store.same_part(other) is None
        assert store.same_parts([other, FULL_CORRECTOR, other]) == [None, first, None]
        assert store.same_parts([]) == []


def test_a_removed_part_takes_its_holdings_along_and_is_no_longer_found(stores: Stores, observer: Observer):
    number, other = put(stores, observer, ring("A"), ring("B"))
    with stores.writing() as store:
        store.set_holding(observer.id, number, Holding(owned=1))
        store.remove_part(number)
    assert find(stores, observer, "ring") == ["B"]
    with stores.reading() as store:
        assert store.holdings(observer.id, [number, other]) == {}
        assert store.known_parts([number, other]).keys() == {other}


def test_a_part_that_a_rig_or_its_undo_needs_is_not_removed(stores: Stores, observer: Observer):
    number, other = put(stores, observer, TUBE, CAMERA)
    with stores.writing() as store:
        rig = store.add_rig(observer.id, "North", plan_of(number))
        store.change_rig(rig.id, 1, plan_of(other), "swapped")
    with stores.writing() as store:
        assert [line.name for line in store.rigs_using(number)] == ["North"]
        with pytest.raises(PartInUseError, match="“North”") as refused:
            store.remove_part(number)
    assert refused.value.rig_names == ("North",)


def test_the_database_itself_refuses_to_lose_a_part_in_use(stores: Stores, observer: Observer):
    (number,) = put(stores, observer, TUBE)
    with stores.writing() as store:
        store.add_rig(observer.id, "North", plan_of(number))
    with stores.writing() as store, pytest.raises(IntegrityError, match=r"(?i)foreign key"):
        store._connection.exec_driver_sql(f"DELETE FROM part WHERE id = {number}")


@pytest.mark.parametrize(
    "ask",
    [
        lambda store: store.part(99),
        lambda store: store.parts([99]),
        lambda store: store.change_part(99, CAMERA, 1),
        lambda store: store.remove_part(99),
        lambda store: store.add_part(CAMERA, 99),
        lambda store: store.observer(99),
        lambda store: store.set_units(99, "metric"),
        lambda store: store.set_holding(99, 1, Holding(owned=1)),
        lambda store: store.set_holding(1, 99, Holding(owned=1)),
        lambda store: store.rig(99),
        lambda store: store.add_rig(99, "x", plan_of()),
        lambda store: store.add_rig(1, "x", plan_of(99)),
        lambda store: store.change_rig(99, 1, plan_of(), "x"),
        lambda store: store.rename_rig(99, 1, "x"),
        lambda store: store.step_rig(99, 1, -1),
        lambda store: store.remove_rig(99),
        lambda store: store.entry(99),
        lambda store: store.shares(99),
        lambda store: store.share_by_token("no such token"),
    ],
)
def test_a_number_that_is_not_there_is_not_found(stores: Stores, observer: Observer, ask: object):
    put(stores, observer, TUBE)
    assert observer.id == 1
    with stores.writing() as store, pytest.raises(NotFoundError, match="no |nothing"):
        ask(store)  # type: ignore[operator]


# -- Observers


def test_a_name_that_differs_in_letter_case_alone_is_taken(stores: Stores, observer: Observer):
    with stores.writing() as store, pytest.raises(FieldErrors) as refused:
        store.add_observer(" ANA ", "imperial")
    assert "“Ana” is here already" in refused.value.errors["name"]


def test_observers_choose_their_units(stores: Stores, observer: Observer):
    with stores.writing() as store:
        store.add_observer("\u00c5se", "metric")
        store.set_units(observer.id, "imperial")
    with stores.reading() as store:
        assert [(one.name, one.units) for one in store.observers()] == [
            ("Ana", "imperial"),
            ("\u00c5se", "metric"),
        ]


# -- Shelves


def test_holdings_are_kept_by_observer_and_nothing_held_is_no_holding(stores: Stores, observer: Observer):
    number, other = put(stores, observer, ring("A"), ring("B"))
    with stores.writing() as store:
        bo = store.add_observer("Bo", "metric")
        store.set_holding(observer.id, number, Holding(owned=2, wished=1))
        store.set_holding(bo.id, number, Holding(considered=1))
        store.set_holding(observer.id, other, Holding(owned=1))
        store.set_holding(observer.id, other, Holding())
    with stores.reading() as store:
        assert store.holdings(observer.id, [number, other]) == {number: Holding(2, 1, 0)}
        assert store.holdings(bo.id, [number, other]) == {number: Holding(0, 0, 1)}
        page = store.find_parts(PartQuery(observer.id))
    assert [line.holding for line in page.lines] == [Holding(2, 1, 0), Holding()]
    assert find(stores, observer, holding="shelf") == ["A"]
    assert find(stores, observer, holding="considered") == []
    assert find(stores, bo, "ring", holding="considered") == ["A"]


def test_many_holdings_are_set_at_once_and_the_others_stay_or_none_is(stores: Stores, observer: Observer):
    # More than the store asks the database for in one statement.
    numbers = put(stores, observer, *(ring(f"R{n}") for n in range(1200)))
    with stores.writing() as store:
        store.set_holding(observer.id, numbers[0], Holding(owned=9))
        store.set_holding(observer.id, numbers[1], Holding(owned=9))
        store.set_holdings(
            observer.id, {numbers[1]: Holding()} | dict.fromkeys(numbers[2:], Holding(wished=1))
        )
    with pytest.raises(NotFoundError), stores.writing() as store:
        store.set_holdings(observer.id, {numbers[0]: Holding(owned=1), numbers[-1] + 1: Holding(owned=1)})
    with stores.reading() as store:
        found = store.holdings(observer.id, numbers)
    assert found == {numbers[0]: Holding(owned=9)} | dict.fromkeys(numbers[2:], Holding(wished=1))


def test_less_than_nothing_is_refused_by_the_store_and_by_the_database(stores: Stores, observer: Observer):
    (number,) = put(stores, observer, ring("A"))
    with stores.writing() as store, pytest.raises(RefusedError, match="wished -1"):
        store.set_holding(observer.id, number, Holding(owned=1, wished=-1))
    with stores.writing() as store, pytest.raises(IntegrityError, match="not_negative"):
        store._connection.exec_driver_sql(f"INSERT INTO holding VALUES ({observer.id}, {number}, 2, -1, 0)")


# -- Searching


def test_every_word_must_be_found_as_the_beginning_of_a_word_in_any_field(stores: Stores, observer: Observer):
    put(stores, observer, FULL_CORRECTOR, TUBE, ring("Fjord", "M48x0.75 male", note="50\u00d750 caf\u00e9"))
    assert find(stores, observer, "quill eben") == ['Ebener "0,8x"']
    assert find(stores, observer, "quill nordlicht") == []
    assert find(stores, observer, "M48") == ["Fjord", 'Ebener "0,8x"']
    assert find(stores, observer, "m48\u00d70,75 MALE fj") == ["Fjord"]
    assert find(stores, observer, "48x0.75") == []
    assert find(stores, observer, "leaflet") == ['Ebener "0,8x"']
    assert find(stores, observer, "50x50") == ["Fjord"]
    assert find(stores, observer, "cafe") == ["Fjord"]
    assert find(stores, observer, "spacer ring") == ["Fjord"]
    assert find(stores, observer, "astrograph") == ['Ebener "0,8x"']
    assert find(stores, observer, " -- \u2033 ") == ["Nordlicht 80", "Fjord", 'Ebener "0,8x"']


def test_kinds_that_begin_alike_are_told_apart(stores: Stores, observer: Observer):
    put(stores, observer, Filter(model="Red"), FilterWheel(model="Wheel"), Camera(model="Red eye"))
    assert find(stores, observer, "filter", kind="filter") == ["Red"]
    assert find(stores, observer, "red", kind="filter") == ["Red"]
    assert find(stores, observer, "w", kind="filter_wheel") == ["Wheel"]
    assert find(stores, observer, kind="camera") == ["Red eye"]


def test_lists_are_in_order_of_names_without_regard_to_letter_case(stores: Stores, observer: Observer):
    put(
        stores,
        observer,
        *(ring(model) for model in ("beta", "Alpha", "Gamma")),
        Shim(maker="andal", model="Z"),
    )
    assert find(stores, observer) == ["Z", "Alpha", "beta", "Gamma"]
    assert find(stores, observer, "halden") == ["Alpha", "beta", "Gamma"]
    assert find(stores, observer, limit=200, connection=connection("M42x1")) == []


def test_more_hits_than_are_counted_can_all_be_paged_through_once(stores: Stores, observer: Observer):
    wanted = sorted(
        put(stores, observer, *(ring(f"R{n:05}", "M48x0.75 male") for n in range(COUNTED_TO + 250, 0, -1)))
    )
    with stores.writing() as store:
        for number in wanted:
            store.set_holding(observer.id, number, Holding(owned=1))
    queries: list[dict[str, object]] = [
        {"text": "ring"},
        {
            "text": "ring",
            "kind": "spacer_ring",
            "holding": "owned",
            "mates_with": connection("M48x0.75 female"),
        },
        {},
        {"kind": "spacer_ring"},
        {"holding": "owned"},
        {"connection": connection("M48x0.75")},
    ]
    for query in queries:
        seen: list[str] = []
        for offset in range(0, COUNTED_TO + 400, 150):
            with stores.reading() as store:
                page = store.find_parts(PartQuery(observer.id, offset=offset, limit=150, **query))  # type: ignore[arg-type]
            assert page.total == COUNTED_TO + 1 > page.counted_to
            assert page.by_name == ("text" not in query)
            seen += [line.item.part.model for line in page.lines]
        assert len(seen) == len(set(seen)) == COUNTED_TO + 250
        assert seen == sorted(seen, reverse="text" in query)


def test_a_connection_is_found_at_either_side_and_at_a_side_port(stores: Stores, observer: Observer):
    put(
        stores,
        observer,
        ring("both", "M48x0.75 male", "M48x0.75 female"),
        ring("open", "M48x0.75"),
        ring("other", "M48x0.6 male"),
        OffAxisGuider(model="guider", side_port=connection("M42x0.75 male")),
        Mount(model="mount", saddle=connection("dovetail 44 mm")),
    )
    assert find(stores, observer, connection=connection("M48x0.75 male")) == ["both", "open"]
    assert find(stores, observer, connection=connection("M48x0.75")) == ["both", "open"]
    assert find(stores, observer, connection=connection("M48")) == ["both", "open", "other"]
    assert find(stores, observer, connection=connection("M42x0.75")) == ["guider"]
    assert find(stores, observer, "mount", connection=connection("dovetail 44 mm")) == ["mount"]


def test_what_mates_is_found_and_what_might_mate_is_not(stores: Stores, observer: Observer):
    put(
        stores,
        observer,
        ring("takes", camera="M48x0.75 female"),
        ring("same gender", "M48x0.75 male"),
        ring("unknown", "M48x0.75"),
        ring("no pitch", "M48 female"),
        PlateAndRings(model="narrow", dovetail=connection("dovetail 43 mm")),
        PlateAndRings(model="wide", dovetail=connection("dovetail 75 mm")),
        ring("bolted", "bolts Hex6 on 62 mm"),
    )
    assert find(stores, observer, mates_with=connection("M48x0.75 male, 4 mm long")) == ["takes"]
    assert find(stores, observer, mates_with=connection("M48x0.75")) == ["same gender", "takes"]
    assert find(stores, observer, mates_with=connection("dovetail 44 mm")) == ["narrow"]
    assert find(stores, observer, mates_with=connection("bolts HEX6 on 62 mm")) == ["bolted"]
    male, female = connection("M48x0.75 male"), connection("M48x0.75 female")
    assert find(stores, observer, connection=female, mates_with=male) == ["takes"]


words = st.text(max_size=60) | st.text(
    st.sampled_from("\"'()*^:+-{}[]\\~NEAR AND OR NOT words kind rowid \0\u0301\ud800\U0001f52d\u00d7a1"),
    max_size=40,
)


@settings(max_examples=300, deadline=None)
@given(text=words, kind=st.sampled_from(["", "filter", *'"*:(^']))
def test_nothing_that_is_typed_is_read_as_search_syntax(searchable: Stores, text: str, kind: str):
    with searchable.reading() as store:
        page = store.find_parts(PartQuery(1, text, kind))
    assert page.total == len(page.lines) <= 2


@settings(max_examples=200, deadline=None)
@given(
    text=st.text(
        st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"], max_codepoint=0x24F), max_size=80
    )
)
def test_a_part_is_found_by_its_own_words(searchable: Stores, text: str):
    part = ring(text)
    with searchable.writing() as store:
        number = store.add_part(part, 1).id
        found = store.find_parts(PartQuery(1, part.model))
        store.remove_part(number)
    assert not match_expression(part.model) or number in [line.item.id for line in found.lines]


@pytest.fixture(scope="module")
def searchable(places: Places, tmp_path_factory: pytest.TempPathFactory):
    stores = open_stores(places.lent("searchable", nothing, tmp_path_factory.mktemp("searchable")))
    with stores.writing() as store:
        ana = store.add_observer("Ana", "metric")
        store.add_parts([TUBE, Filter(model='a "red" NEAR(filter) OR 1')], ana.id)
    yield stores
    stores.close()


def test_the_longest_search_is_not_too_deep_for_the_index(searchable: Stores):
    with searchable.reading() as store:
        assert store.find_parts(PartQuery(1, "a " * 5000)).total == 1


# -- Joiners


def test_joiners_fit_both_ends_owned_first_then_short_before_long(stores: Stores, observer: Observer):
    def length(mm: float) -> dict[str, float]:
        return {"nominal": mm}

    straight = put(
        stores,
        observer,
        adapter("long", "M54x0.75 male", "M42x0.75 male", length_mm=length(20)),
        adapter("short", "M54x0.75 male", "M42x0.75 male", length_mm=length(5)),
        adapter("wished", "M54x0.75 male", "M42x0.75 male", length_mm=length(1)),
        adapter("turned", "M42x0.75 male", "M54x0.75 male", length_mm=length(10), reversible=True),
        adapter("wrong way", "M42x0.75 male", "M54x0.75 male", length_mm=length(2)),
        adapter("unknown length", "M54x0.75 male", "M42x0.75 male"),
        adapter("no gender", "M54x0.75", "M42x0.75 male", length_mm=length(3)),
        Corrector.model_validate(
            {
                "model": "corrector",
                "sky_side": connection("M54x0.75 male"),
                "camera_side": connection("M42x0.75 male"),
            }
        ),
    )
    put(stores, observer, adapter("not mine", "M54x0.75 male", "M42x0.75 male", length_mm=length(1)))
    with stores.writing() as store:
        for number in straight:
            store.set_holding(observer.id, number, Holding(owned=1))
        store.set_holding(observer.id, straight[2], Holding(wished=1))
    above, below = connection("M54x0.75 female"), connection("M42x0.75 female")
    with stores.reading() as store:
        found = [line.item.part.model for line in store.joiners(above, below, observer.id)]
        assert found == ["short", "turned", "long", "unknown length", "wished"]
        assert len(store.joiners(above, below, observer.id, limit=2)) == 2
        assert store.joiners(connection("M54x0.75"), below, observer.id) == ()


def test_a_reading_unit_cannot_write(stores: Stores, observer: Observer):
    with stores.reading() as store, pytest.raises(DiskTroubleError, match="cannot be written"):
        store.add_part(TUBE, observer.id)


def test_makers_and_connections_are_remembered_the_most_frequent_first(stores: Stores, observer: Observer):
    put(
        stores,
        observer,
        ring("A", "M48x0.75 male, 5 mm long", "M48x0.75 female", maker="Quill"),
        ring("B", "M48x0.75 male", "M54x0.75 female", maker="Aster"),
        ring("C", "M48x0.75 male, 3 mm long", maker="Quill"),
        ring("D"),
    )
    with stores.reading() as store:
        known = store.remembered(observer.id)
    assert known.makers == ("Quill", "Aster", "Halden")
    assert known.connections[0] == connection("M48x0.75 male")
    assert set(known.connections[1:]) == {connection("M48x0.75 female"), connection("M54x0.75 female")}


def test_an_empty_catalogue_remembers_nothing(stores: Stores, observer: Observer):
    with stores.reading() as store:
        assert store.remembered(observer.id).makers == ()
        assert store.remembered(observer.id).connections == ()
