"""All checks together over any rig that the forms allow: none raises, and every finding can be asked how.

Source: none needed; these are properties, not values, but for the sentences, which are read by a person.
"""

from __future__ import annotations

import re
from functools import cache

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from server.domain.connections import read_connection
from server.domain.findings import WEIGHT_WORDS, Finding
from server.domain.parts import KINDS, CataloguedPart
from server.domain.parts.optical import SpotRow
from server.domain.rig import Gear, Rig, Rules
from server.domain.train import TRAIN_KINDS, Place, Train
from server.rim.wording import write_figure, write_phrase
from tests.domain.rigs import camera, corrector, glass, holding, item, mount, rig, ring, shim, tube, wheel
from tests.rim.strategies import parts_of
from tests.told import run_checks

NAMES = ("", "{x}", "{error} {load}", "}{", "{{}}", "%s <b>")

rules = st.builds(
    Rules,
    seeing_arcsec=st.floats(0.3, 20.0),
    wavelength_nm=st.floats(300.0, 1100.0),
    payload_share=st.floats(0.1, 1.0),
    spacing_mm=st.floats(0.01, 5.0),
    corner_light=st.floats(0.05, 1.0),
    joint_arcmin=st.floats(0.0, 120.0),
    night_fall_k=st.floats(0.0, 60.0),
    galactic_latitude_deg=st.floats(0.0, 90.0),
)


@cache
def catalogued(kind: str) -> st.SearchStrategy[CataloguedPart]:
    named = st.tuples(parts_of(kind), st.sampled_from(NAMES))
    return named.map(lambda pair: item(pair[0].model_copy(update={"model": pair[1] or pair[0].model})))


@st.composite
def any_places(draw: st.DrawFn) -> tuple[Place, ...]:
    kinds = draw(
        st.lists(st.sampled_from([k for k in TRAIN_KINDS if k not in ("optical_tube", "camera")]), max_size=4)
    )
    if draw(st.booleans()):
        kinds = ["optical_tube", *kinds]
    if draw(st.booleans()):
        kinds = [*kinds, "camera"]
    found = []
    for key, kind in enumerate(kinds, start=1):
        inside = (draw(catalogued("filter")),) if kind == "filter_wheel" and draw(st.booleans()) else ()
        length = draw(st.none() | st.floats(0.01, 500.0)) if kind in ("spacer_ring", "adapter") else None
        found.append(Place(key, draw(catalogued(kind)), draw(st.booleans()), inside, length))
    return tuple(found)


@st.composite
def any_rig(draw: st.DrawFn) -> Rig:
    beside = [kind for kind in KINDS if kind not in TRAIN_KINDS]
    gear = [
        Gear(draw(catalogued(kind)), draw(st.integers(1, 99)))
        for kind in draw(st.lists(st.sampled_from(beside), max_size=3))
    ]
    return Rig("Any rig", Train(draw(any_places())), tuple(gear), draw(rules))


def numbers_named_in(finding: Finding) -> set[str]:
    bare = finding.phrase.template.replace("{{", "").replace("}}", "")
    return set(re.findall(r"\{([a-z_]+)\}", bare))


def demand_whole(finding: Finding) -> None:
    assert finding.weight in WEIGHT_WORDS
    assert finding.source or finding.missing, finding.code
    if finding.weight == "unknown":
        assert finding.missing, finding.code
    assert finding.weight != "sound" or not finding.missing, finding.code
    assert numbers_named_in(finding) <= finding.phrase.amounts.keys(), finding.code
    if finding.figure is not None:
        assert finding.formula, finding.code
        assert finding.source, finding.code
        assert finding.inputs, finding.code
        assert all(i.amount is not None or i.text for i in finding.inputs), finding.code
    for remedy in finding.remedies:
        assert remedy.phrase.template.endswith((".", ". ")), finding.code


@settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(any_rig())
def test_whatever_the_forms_allow_is_judged_without_an_error_and_twice_the_same(any_one):
    found = run_checks(any_one)
    assert found == run_checks(any_one)
    for finding in found:
        demand_whole(finding)


@settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(any_rig())
def test_every_sentence_can_be_written_for_both_readers_and_no_figure_changes_with_them(any_one):
    for finding in run_checks(any_one):
        before = finding.model_dump()
        for units in ("metric", "imperial"):
            for phrase in (finding.phrase, *(remedy.phrase for remedy in finding.remedies)):
                said = write_phrase(phrase, units)
                assert said.strip().endswith((".", "”"))
                assert "  " not in said or "  " in phrase.template
            if finding.figure is not None:
                assert write_figure(finding.figure, units)
        assert finding.model_dump() == before


def test_a_rig_without_a_fault_is_sound_in_every_check():
    male, female = read_connection("M63x1 male"), read_connection("M63x1 female")
    wide = {"clear_aperture_mm": 60.0, "sky_side": male}
    between = wide | {"camera_side": female}
    # Behind a flattener the focus stays where it was: 85 mm, and 30 + 37.5 + 0.68 + 17.5 less 0.68 reach
    # there.
    focus = {"back_focus_mm": 85.0, "focuser_in_mm": 20.0, "focuser_out_mm": 20.0, "tube_length_mm": 700.0}
    found = run_checks(
        rig(
            tube(
                camera_side=female,
                tube_material="aluminium",
                drawtube_bore_mm=60.0,
                colour_shift_mm=0.05,
                **focus,
            ),
            # Without its maker's spots nobody knows what a corrector does to the stars by itself.
            corrector(spot_sizes=(SpotRow(height_mm=25.0, spot_um=4.0),), **between),
            holding(wheel(37.5 + 0.68, **between), glass(2.0, clear_aperture_mm=60.0)),
            camera(**wide),
            gear=[mount()],
            rules=Rules(seeing_arcsec=2.5),
        )
    )
    assert [(f.code, f.weight) for f in found] == [
        ("payload.sound", "sound"),
        ("joints.mate", "sound"),
        ("spacing.sound", "sound"),
        ("reach.sound", "sound"),
        ("coverage.sound", "sound"),
        ("beam.sound", "sound"),
        ("filter_size.sound", "sound"),
        ("tolerances.tilt", "sound"),
        ("corners.sound", "sound"),
        ("colour.sound", "sound"),
        ("sampling.field", "sound"),
        ("sampling.sound", "sound"),
        ("sampling.ratio", "sound"),
    ]
    for finding in found:
        demand_whole(finding)


def test_figures_that_grow_beyond_all_numbers_are_told_in_a_sentence():
    tiny = tube(aperture_mm=1e-310, image_circle_mm=1e-310, drawtube_bore_mm=1e-310)
    found = run_checks(rig(tiny, ring(10.0), camera(pixel_um=1e-310, flange_mm=1e-310), gear=[mount(1e-310)]))
    beyond = [write_phrase(f.phrase, "metric") for f in found if f.code.endswith(".outside")]
    assert beyond
    for said in beyond:
        assert "pydantic" not in said
        assert said.startswith("This could not be worked out. ")
        assert said.endswith(".")


def test_names_with_braces_stand_in_sentences_as_they_were_typed():
    odd = "Odd {error} }{ {x}"
    found = run_checks(
        rig(
            tube(model=odd, image_circle_mm=20.0),
            corrector(model=odd),
            shim(0.5, model=odd, fits_from_mm=10.0),
            ring(60.0, model=odd, clear_aperture_mm=20.0),
            camera(model=odd, mass_kg=None),
            gear=[mount(1.0, model=odd)],
        )
    )
    said = [write_phrase(p, "metric") for f in found for p in (f.phrase, *(r.phrase for r in f.remedies))]
    told = [text for text in said if "Odd" in text]
    assert len(told) >= 6
    for text in told:
        assert text.count("Odd") == text.count(odd)


def test_sentences_read_well_in_both_units():
    found = {
        f.code: write_phrase(f.phrase, "metric")
        for f in run_checks(
            rig(tube(), corrector(), ring(39.0), camera(), gear=[mount(8.0)], rules=Rules(seeing_arcsec=2.5))
        )
    }
    assert found["spacing.long"] == (
        "The sensor sits 1.50 mm too far behind Halden Flat: at 56.50 mm, where 55.00 mm is asked for. "
        "0.50 mm is allowed."
    )
    assert found["payload.over_usable"] == (
        "The load is 6.0 kg; of the 8.0 kg that Stone Mount is rated for, 60 % or 4.8 kg is usual for "
        "imaging. It is 1.25 kg over that, at 76 % of the rating: expect wind and guiding to cost frames."
    )
    imperial = {f.code: f for f in run_checks(rig(tube(), corrector(), ring(39.0), camera()))}
    assert write_phrase(imperial["spacing.long"].phrase, "imperial").startswith(
        "The sensor sits 0.0591 in too far behind Halden Flat: at 2.2244 in, where 2.1654 in is asked for."
    )
