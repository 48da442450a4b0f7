"""The demo club: its files are whole, its rigs add up as worked by hand, and it loads into a real store."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.domain.errors import RefusedError
from server.domain.findings import Finding
from server.domain.observer import Holding
from server.domain.parts import KINDS, Part
from server.flow.assemble_train import RemovePart, SwapPart
from server.flow.protocols import PartQuery
from server.flow.views import BenchView, EntryView
from server.flow.workbench import Workbench
from server.paths import SEED_DATA
from server.rim.demo_club import DemoSummary, load_demo_club
from server.rim.demo_files import DemoClub, read_demo_club
from server.rim.forms import part_texts, read_part
from server.rim.phrasebook.tell import tell
from server.store.prepare import prepare_database
from server.store.session import SqlStore, Stores, open_stores

TENTH_MM = 0.1
"""Back focus is kept to a tenth of a millimetre (common practice, no source)."""
HUNDREDTH_MM = 0.01
"""Sums of stated lengths are exact; the glass shift by hand is rounded to 0.001 mm."""

ON_THE_DAY = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)

# Worked by hand from the figures in the files, mm: the sum of the lengths behind the corrector (or the tube,
# without one), and what is asked: back focus + t (1 - cos u / sqrt(n^2 - sin^2 u)) with
# tan u = 1 / (2 N) and n = 1.52: 2.0 mm shift by 0.690 at f/4 and 0.687 at f/5.5, 3.0 mm by 1.029 at f/7
# (plane-parallel plate; Smith, Modern Optical Engineering, from memory).
BY_HAND: dict[str, tuple[float, float]] = {
    "Garden refractor": (0.5 + 0.2 + 22.5 + 13.2 + 19.3, 55.687),
    "Fast Newtonian": (0.5 + 16.0 + 3.2 + 21.1 + 16.4, 56.690),
    "Galaxy scope": (34.5 + 30.0 + 13.2 + 19.3, 97.0),
    "The big one on the old mount": (27.3 + 20.0 + 12.0 + 21.4 + 10.0 + 16.0 + 22.0 + 19.3, 148.029),
    "Winter rig that adds up": (16.0 + 4.2 + 16.2 + 19.3, 55.687),
    "Holiday tracker": (23.4 + 19.3, 42.7),
    # The reducer's card at 750 mm, half way between 600 (56.5) and 900 (55.0), asks for 55.75.
    "Nebula refractor": (6.0 + 20.0 + 11.1 + 19.3, 56.437),
    "Loan: f/4 Newtonian, corrected": (0.5 + 20.0 + 5.0 + 11.2 + 19.3, 56.0),
    "Loan: doublet, flattened": (10.0 + 7.5 + 5.0 + 13.2 + 19.3, 55.0),
}
TOO_LONG = "Fast Newtonian"


@pytest.fixture(scope="module")
def club() -> DemoClub:
    return read_demo_club(SEED_DATA)


@pytest.fixture(scope="module")
def parts(club: DemoClub) -> dict[str, Part]:
    return {slug: read_part(part.kind, part.texts) for slug, part in club.parts.items()}


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Stores, DemoSummary]]:
    path = tmp_path_factory.mktemp("demo") / "club.sqlite"
    prepare_database(path)
    stores = open_stores(path, lambda: ON_THE_DAY)
    with stores.writing() as store:
        summary = load_demo_club(store, SEED_DATA)
    yield stores, summary
    stores.close()


@pytest.fixture
def store(loaded: tuple[Stores, DemoSummary]) -> Iterator[SqlStore]:
    with loaded[0].reading() as unit:
        yield unit


@contextmanager
def _fresh(folder: Path) -> Iterator[Stores]:
    """A new, empty store for a test that writes."""
    path = folder / "fresh.sqlite"
    prepare_database(path)
    stores = open_stores(path, lambda: ON_THE_DAY)
    try:
        yield stores
    finally:
        stores.close()


def _benches(store: SqlStore) -> dict[str, BenchView]:
    found: dict[str, BenchView] = {}
    for observer in store.observers():
        workbench = Workbench(store, observer, tell)
        found |= {line.name: workbench.bench(line.id) for line in workbench.rigs()}
    return found


def _entries(store: SqlStore) -> dict[str, EntryView]:
    """Every entry of every logbook, opened, by its title."""
    found: dict[str, EntryView] = {}
    for observer in store.observers():
        workbench = Workbench(store, observer, tell)
        found |= {e.document.title: workbench.entry(e.id) for e in workbench.entries()}
    return found


def _finding(findings: tuple[Finding, ...], check: str) -> Finding:
    return next(f for f in findings if f.code.startswith(check + "."))


def _number(finding: Finding, amount: str) -> float:
    return finding.phrase.amounts[amount].value


# The files


def test_there_are_sixty_parts_or_more_of_eight_makers(parts: dict[str, Part]) -> None:
    assert len(parts) >= 60
    assert len({part.maker for part in parts.values()}) == 8


def test_every_kind_of_part_is_there(parts: dict[str, Part]) -> None:
    assert {part.kind for part in parts.values()} == set(KINDS)


@pytest.mark.parametrize(
    ("kind", "field", "least"),
    [("optical_tube", "design", 9), ("corrector", "corrector_type", 4), ("mount", "mount_type", 4)],
)
def test_every_design_corrector_and_type_of_mount_is_there(
    parts: dict[str, Part], kind: str, field: str, least: int
) -> None:
    assert len({getattr(part, field) for part in parts.values() if part.kind == kind}) == least


def test_each_file_of_parts_holds_one_maker(parts: dict[str, Part]) -> None:
    for path in (SEED_DATA / "parts").glob("*.toml"):
        makers = {part.maker for slug, part in parts.items() if slug.startswith(path.stem + "-")}
        assert len(makers) == 1, path.name


def test_no_two_parts_have_the_same_name(parts: dict[str, Part]) -> None:
    twice = [name for name, times in Counter(part.name for part in parts.values()).items() if times > 1]
    assert twice == []


def test_every_part_survives_its_own_edit_form(parts: dict[str, Part]) -> None:
    assert {s: read_part(p.kind, part_texts(p)) for s, p in parts.items()} == parts


def test_every_part_that_a_rig_needs_stands_on_its_owners_shelf(club: DemoClub) -> None:
    shelves = {observer.slug: observer.shelf for observer in club.observers}
    for rig in club.rigs:
        named = Counter(rig.gear)
        named.update(slug for place in rig.places for slug in (place.part, *place.inside))
        for slug, times in named.items():
            assert shelves[rig.observer].get(slug, Holding()).owned >= times, (rig.name, slug)


def test_the_logbook_spans_months_and_three_rigs_or_more(club: DemoClub) -> None:
    assert len(club.entries) >= 8
    assert len({entry.rig for entry in club.entries}) >= 3
    assert (club.entries[-1].saved_at - club.entries[0].saved_at).days > 90
    assert all(entry.note for entry in club.entries)


# The rigs, in a real store


def test_the_whole_club_is_loaded(
    loaded: tuple[Stores, DemoSummary], store: SqlStore, club: DemoClub
) -> None:
    summary = loaded[1]
    assert summary.club == club.name
    assert (summary.parts, summary.rigs, summary.entries) == (len(club.parts), 13, len(club.entries))
    assert store.observers() == tuple(sorted(summary.observers, key=lambda one: one.name))
    assert {one.units for one in summary.observers} == {"metric", "imperial"}
    assert len(_entries(store)) == len(club.entries)


def test_holdings_are_as_the_shelf_says(store: SqlStore) -> None:
    annika = store.observers()[0]
    line = store.find_parts(PartQuery(annika.id, text="Shim 48, 0.5 mm")).lines[0]
    assert line.holding == Holding(owned=2, wished=1)


@pytest.mark.parametrize("name", BY_HAND)
def test_each_rig_adds_up_as_worked_by_hand(store: SqlStore, name: str) -> None:
    view = _benches(store)[name]
    actual, asked = BY_HAND[name]
    spacing = next((f for f in view.findings if f.code.startswith("spacing.")), None)
    if spacing is not None:
        assert _number(spacing, "actual") == pytest.approx(actual, abs=HUNDREDTH_MM)
        assert _number(spacing, "asked") == pytest.approx(asked, abs=HUNDREDTH_MM)
    else:
        first = view.rig.train.shoulders[1].sky_mm
        assert first == pytest.approx(actual, abs=HUNDREDTH_MM)
        assert _finding(view.findings, "reach").weight != "stop"
    if name == TOO_LONG:
        assert actual - asked == pytest.approx(0.5, abs=TENTH_MM)
    else:
        assert actual == pytest.approx(asked, abs=TENTH_MM)


def test_exactly_two_rigs_have_a_sum_that_stops_them_a_third_a_thread_and_a_fourth_its_load(
    store: SqlStore,
) -> None:
    stops = {
        name: [f.code for f in view.findings if f.weight == "stop"] for name, view in _benches(store).items()
    }
    assert {name: codes for name, codes in stops.items() if codes} == {
        "Fast Newtonian": ["spacing.long"],
        "Nebula refractor": ["joints.size"],
        "Winter rig that adds up": ["seating.touches"],
        "Wide lens on the garden mount": ["lifting.over_limit", "balance.no_weight"],
    }


def test_the_wide_lens_is_carried_and_no_weight_balances_it_and_its_mount_is_more_than_its_owner_lifts(
    store: SqlStore,
) -> None:
    findings = _benches(store)["Wide lens on the garden mount"].findings
    # All worked by hand in the rig's own file.
    load = _finding(findings, "payload")
    assert load.weight == "sound"
    assert _number(load, "load") == pytest.approx(1.736, abs=0.001)
    told = {finding.code: finding for finding in findings}
    assert told["balance.along"].weight == "sound"
    assert _number(told["balance.along"], "centre") == pytest.approx(100.7, abs=TENTH_MM)
    bar = told["balance.no_weight"]
    assert _number(bar, "arm") == pytest.approx(183.78, abs=HUNDREDTH_MM)
    # 107.5 / 111 = 0.969 kg, rounded down: a weight of 0.97 would be too much.
    assert bar.remedies[0].phrase.amounts["most"].value == 0.96
    lifting = told["lifting.over_limit"]
    assert lifting.figure is not None
    assert lifting.figure.amount.value == pytest.approx(8.2)
    # Its heaviest piece does not come apart; without the bar of 0.9 kg it would be 7.3 kg.
    assert lifting.remedies[0].phrase.amounts["rest"].value == pytest.approx(7.3)
    assert all("come off" not in remedy.phrase.template for remedy in lifting.remedies)


def test_the_saved_sheet_of_the_wide_lens_says_all_three_with_what_to_change(store: SqlStore) -> None:
    saved = {f.code: f for f in _entries(store)["Looks easy, is not"].entry.document.findings}
    assert saved["payload.sound"].weight == "sound"
    for code in ("balance.no_weight", "lifting.over_limit"):
        assert saved[code].weight == "stop"
        assert saved[code].remedies


def test_the_winter_rig_is_balanced_lifted_and_powered_as_its_comment_works_it_out(store: SqlStore) -> None:
    told = {f.code: f for f in _benches(store)["Winter rig that adds up"].findings}
    bar = told["balance.bar"]
    # 4.99 kg at 198.8 mm from the polar axis, less the bar's 0.9 kg at 235 mm, over the weight's 3.5 kg.
    assert bar.figure is not None
    assert bar.figure.amount.value == pytest.approx(223.0, abs=1.0)
    # 50 Ah x 12.8 V x 0.9 x 0.774 (at -6 degrees Celsius) = 446 Wh, of which 354 go in six hours.
    assert (
        "takes 354 Wh over 6.0 hours; Nettlewatt LFP 50 gives 446 Wh" in told["power.sound"].phrase.template
    )
    assert {told["lifting.sound"].weight, told["lifting.index_sound"].weight} == {"sound"}


def test_the_winter_rig_passes_every_sum_and_fails_in_three_places_of_the_geometry(store: SqlStore) -> None:
    findings = _benches(store)["Winter rig that adds up"].findings
    sums = ("joints", "spacing", "coverage", "sampling", "payload")
    assert {f.weight for f in findings if f.code.partition(".")[0] in sums} == {"sound"}
    assert next(f for f in findings if f.title == "Light cone").code == "beam.sound"
    wrong = {f.code: f for f in findings if f.code in ("seating.touches", "beam.prism", "reach.runs_out")}
    assert len(wrong) == 3
    # Worked by hand in the rig's own file.
    assert _number(wrong["seating.touches"], "over") == pytest.approx(1.0, abs=HUNDREDTH_MM)
    assert _number(wrong["beam.prism"], "long") == pytest.approx(11.36, abs=2 * HUNDREDTH_MM)
    assert _number(wrong["reach.runs_out"], "outwards") == pytest.approx(0.116, abs=HUNDREDTH_MM)
    assert _number(wrong["reach.runs_out"], "drift") == pytest.approx(0.139, abs=HUNDREDTH_MM)
    assert all(f.remedies for f in wrong.values())


def test_taking_out_what_the_fast_newtonian_is_told_to_mends_it(tmp_path: Path) -> None:
    with _fresh(tmp_path) as stores, stores.writing() as store:
        load_demo_club(store, SEED_DATA)
        ruta = next(o for o in store.observers() if o.name.startswith("Ruta"))
        workbench = Workbench(store, ruta, tell)
        line = next(r for r in workbench.rigs() if r.name == "Fast Newtonian")
        view = workbench.bench(line.id)
        action = _finding(view.findings, "spacing").remedies[0].action
        assert action is not None
        assert action.place is not None
        mended = workbench.change_rig(line.id, view.stored.version, RemovePart(place=action.place))
        assert _finding(mended.findings, "spacing").weight == "sound"
        assert not [f for f in mended.findings if f.weight == "stop"]


def test_the_other_adapter_on_the_shelf_mends_the_nebula_refractor(tmp_path: Path) -> None:
    with _fresh(tmp_path) as stores, stores.writing() as store:
        load_demo_club(store, SEED_DATA)
        declan = next(o for o in store.observers() if o.name.startswith("Declan"))
        workbench = Workbench(store, declan, tell)
        line = next(r for r in workbench.rigs() if r.name == "Nebula refractor")
        view = workbench.bench(line.id)
        right = store.find_parts(PartQuery(declan.id, text="48 to 42 11.2 mm", holding="owned")).lines
        adapter = next(p for p in view.stored.plan.places if "M42x1" in store.part(p.part_id).name)
        swap = SwapPart(place=adapter.key, part_id=right[0].item.id)
        mended = workbench.change_rig(line.id, view.stored.version, swap)
        assert not [f for f in mended.findings if f.weight == "stop"]


def test_the_heavy_rig_is_over_what_imaging_should_use_and_says_what_was_not_weighed(
    store: SqlStore,
) -> None:
    load = _finding(_benches(store)["The big one on the old mount"].findings, "payload")
    # 19.6 + 1.4 + 0.11 + 0.42 + 0.11 and 3.56 of train, worked by hand from the files, kg.
    assert _number(load, "load") == pytest.approx(25.2, abs=0.05)
    assert load.weight == "watch"
    assert any("Cable set" in missing for missing in load.missing)


def test_undo_steps_back_through_the_building_of_a_rig(tmp_path: Path) -> None:
    with _fresh(tmp_path) as stores, stores.writing() as store:
        load_demo_club(store, SEED_DATA)
        observer = store.observers()[0]
        workbench = Workbench(store, observer, tell)
        for line in workbench.rigs():
            view = workbench.bench(line.id)
            steps = 0
            while view.stored.undo_words:
                view = workbench.step_rig(line.id, view.stored.version, -1)
                steps += 1
            assert steps >= 5
            assert view.stored.plan.places == ()


# The logbook


def test_every_entry_opens_with_the_figures_of_its_day(store: SqlStore) -> None:
    opened = _entries(store)
    for view in opened.values():
        assert view.rig.train.tube is not None
        assert view.rig.train.camera is not None
        assert view.entry.document.findings
    thick = opened["Guider in, washer in"]
    # 3.5 mm at f/4 shift by 1.2075: 57.2075 by hand, and the train measured 57.2 that day.
    spacing = _finding(thick.entry.document.findings, "spacing")
    assert _number(spacing, "asked") == pytest.approx(57.2075, abs=HUNDREDTH_MM)
    assert spacing.weight == "sound"


def test_old_entries_say_whose_specification_has_changed_since(store: SqlStore) -> None:
    opened = _entries(store)
    assert len(opened["Guider in, washer in"].revised) == 7
    assert [i.part.model for i in opened["Reducer in"].revised] == ["R 68 reducer-flattener"]
    assert [i.part.model for i in opened["Too much of a good thing"].revised] == [
        "DK 302 corrected Dall-Kirkham"
    ]
    assert opened["Put the calipers on the filters"].revised == ()


def test_what_changed_between_two_entries_of_a_rig_is_told(store: SqlStore) -> None:
    opened = _entries(store)
    observer = next(o for o in store.observers() if o.name.startswith("Ruta"))
    workbench = Workbench(store, observer, tell)
    washer, calipers = opened["Guider in, washer in"], opened["Put the calipers on the filters"]
    changes = workbench.compare(washer.entry.id, calipers.entry.id)
    assert {change.field for change in changes.specifications} == {"thickness_mm", "basis"}
    assert changes.parts_in == changes.parts_out == ()
    turned = {
        t.after.code: (t.before and t.before.weight, t.after.weight) for t in changes.findings if t.after
    }
    assert turned["spacing.long"] == ("sound", "stop")
    # The calipers' own tolerance: filters of one figure need not be of one thickness.
    assert turned.keys() == {"spacing.long", "parfocal.may_offset"}
    first = opened["Collimated, corrector in"]
    changes = workbench.compare(first.entry.id, washer.entry.id)
    assert any("guider" in name.casefold() for name in changes.parts_in)


def test_a_rig_file_may_turn_a_ring_round_set_a_length_and_choose_the_filter_in_the_beam(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "club"
    shutil.copytree(SEED_DATA, folder)
    rigs = folder / "rigs.toml"
    text = rigs.read_text(encoding="utf-8")
    for old, new in (
        ('  "brindlewick-48-20",', '  { part = "brindlewick-48-20", flipped = true },'),
        ('  "brindlewick-48-30",', '  { part = "brindlewick-48-var", set_length_mm = 20.5 },'),
        ('["sennlicht-l50", "sennlicht-ha50"]', '["sennlicht-ha50"]'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    rigs.write_text(text, encoding="utf-8")
    with _fresh(tmp_path) as stores, stores.writing() as store:
        load_demo_club(store, folder)
        benches = _benches(store)
    assert [p.name for p in benches["Nebula refractor"].rig.train if p.flipped] == [
        "Brindlewick Works Ring 48, 20 mm"
    ]
    assert [p.set_length_mm for p in benches["Galaxy scope"].rig.train if p.set_length_mm] == [20.5]
    inside = [f.part.model for p in benches["The big one on the old mount"].rig.train for f in p.inside]
    assert inside == ["H-alpha 4 nm, 50 mm square"]


# The sky


def test_a_second_load_is_refused_and_adds_nothing(tmp_path: Path) -> None:
    with _fresh(tmp_path) as stores:
        with stores.writing() as store:
            store.add_observer("ruta ommerli", "metric")
        with pytest.raises(RefusedError, match="is an observer here already"), stores.writing() as store:
            load_demo_club(store, SEED_DATA)
        with stores.reading() as store:
            assert [o.name for o in store.observers()] == ["ruta ommerli"]
            assert store.find_parts(PartQuery(store.observers()[0].id)).total == 0


def test_two_loads_make_the_same_club(store: SqlStore, tmp_path: Path) -> None:
    with _fresh(tmp_path) as stores, stores.writing() as other:
        load_demo_club(other, SEED_DATA)
        one = {title: view.entry for title, view in _entries(store).items()}
        two = {title: view.entry for title, view in _entries(other).items()}
        assert one == two


@pytest.mark.parametrize(
    ("file", "old", "new", "sentence"),
    [
        ("parts/tarnholt.toml", '"8.4 kg"', '"8.4 mm"', "tarnholt-n192 is not taken: mass_kg"),
        ("parts/tarnholt.toml", "mass_kg", "weight", "the field weight, which a"),
        ("parts/tarnholt.toml", '"tarnholt-fm1"', '"tarnholt-hf54"', "tarnholt-hf54 is given twice"),
        ("rigs.toml", '"tarnholt-cc56"', '"tarnholt-cc57"', "names tarnholt-cc57"),
        ("club.toml", '"owned 2"', '"two"', "is not like"),
        ("logbook.toml", 'rig = "heavy"', 'rig = "light"', "there is no rig light"),
        ("logbook.toml", "2025-09-27T21:15:00Z", "2025-08-27T21:15:00Z", "is not after the one above"),
        ("rigs.toml", "[[rig]]", "[[rig]", "is not valid TOML"),
        ("club.toml", "units", "system", "lacks 'units'"),
        ("sky.toml", '"50.1 N"', '"50.1 W"', "Suburban garden is not taken: latitude_deg"),
        ("sky.toml", "seeing_arcsec", "seeing", "the field seeing, which nobody asks for"),
        ("sky.toml", '"galaxies", "nebulae"', '"galaxies", "heavy"', "names heavy, no rig of its observer's"),
        ("sky.toml", 'observer = "isolde"', 'observer = "ilse"', "Club field belongs to ilse"),
    ],
)
def test_a_mistake_in_the_files_is_refused_with_its_place(
    tmp_path: Path, file: str, old: str, new: str, sentence: str
) -> None:
    folder = tmp_path / "club"
    shutil.copytree(SEED_DATA, folder)
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    with _fresh(tmp_path) as stores, pytest.raises(RefusedError, match=sentence), stores.writing() as store:
        load_demo_club(store, folder)
