"""What the mount carries against its rating.

Source: sums worked by hand. Half to two thirds of a counterweighted equatorial mount's rating for imaging:
common practice, no source; the rule's default is 0.6.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.load.places import all_pieces
from server.domain.measure import Measure
from server.domain.parts import Accessory, Counterweight, GuideScope, PlateAndRings, PowerSource, Support
from server.domain.rig import Rules
from server.rim.wording import write_phrase
from tests.domain.rigs import (
    camera,
    finding,
    findings,
    glass,
    holding,
    mm,
    mount,
    number,
    rig,
    ring,
    tube,
    wheel,
)

ROUNDING_KG = 1e-9


def accessory(mass_kg, place):
    return Accessory(model="Box", mass_kg=None if mass_kg is None else mm(mass_kg), place=place)


def test_the_train_and_what_rides_beside_it_add_up():
    # 5.0 + (0.5 + 2 x 0.01) + 0.6 + 1.5 + 0.8 + 2 x 0.3 = 9.02 kg of 20 x 0.6 = 12 kg.
    found = finding(
        "payload",
        tube(),
        holding(wheel(20.0), glass(2.0), glass(2.0)),
        camera(),
        gear=[
            mount(20.0, mass_kg=12.0),
            PlateAndRings(model="Rings", mass_kg=mm(1.5)),
            GuideScope(model="Guide", mass_kg=mm(0.8)),
            (accessory(0.3, "tube"), 2),
        ],
    )
    assert (found.weight, found.code) == ("sound", "payload.sound")
    assert number(found, "load") == pytest.approx(9.02, abs=ROUNDING_KG)
    assert number(found, "usable") == pytest.approx(12.0, abs=ROUNDING_KG)


def test_counterweights_supports_batteries_and_what_stands_on_the_ground_do_not_ride():
    found = finding(
        "payload",
        tube(),
        gear=[
            mount(),
            (Counterweight(model="Weight", mass_kg=mm(5.0)), 3),
            Support(model="Pier", mass_kg=mm(30.0)),
            PowerSource(model="Battery", mass_kg=mm(10.0)),
            accessory(4.0, "ground"),
            accessory(4.0, "bar"),
        ],
    )
    assert number(found, "load") == 5.0


@pytest.mark.parametrize(
    ("rated", "code", "weight"),
    [
        (10.0, "payload.sound", "sound"),  # Just 6 of 6 kg.
        (9.9, "payload.over_usable", "watch"),
        (6.0, "payload.over_usable", "watch"),  # Just the rating itself.
        (5.9, "payload.over_rating", "stop"),
    ],
)
def test_six_kilograms_are_judged_by_the_rating_and_its_usual_share(rated, code, weight):
    found = finding("payload", tube(mass_kg=5.4), camera(), gear=[mount(rated)])
    assert (found.code, found.weight) == (code, weight)


def test_rounding_never_turns_the_verdict_at_the_rating():
    # Ten times a tenth of a kilogram on a rating of one.
    found = finding("payload", *(ring(1.0, mass_kg=0.1) for _ in range(10)), gear=[mount(1.0)])
    assert found.code == "payload.over_usable"


def test_the_owners_share_counts():
    rules = Rules(payload_share=0.25)
    assert finding("payload", tube(), gear=[mount()], rules=rules).code == "payload.sound"
    heavier = finding("payload", tube(mass_kg=5.1), gear=[mount()], rules=rules)
    assert heavier.code == "payload.over_usable"


def test_a_missing_mass_is_named_and_the_load_is_at_least_so_much():
    found = finding("payload", tube(), camera(mass_kg=None), gear=[mount()])
    assert (found.weight, found.missing) == ("unknown", ("the mass of Quill Cam",))
    assert "at least {load}" in found.phrase.template


def test_a_load_that_is_too_much_already_is_a_stop_whatever_is_missing():
    found = finding("payload", tube(mass_kg=25.0), camera(mass_kg=None), gear=[mount()])
    assert (found.weight, found.code) == ("stop", "payload.over_rating")
    assert found.missing == ("the mass of Quill Cam",)


def test_an_accessory_that_does_not_say_where_it_rides_is_asked():
    found = finding("payload", tube(), gear=[mount(), accessory(1.0, None)])
    assert (found.weight, found.missing) == ("unknown", ("where Box rides",))


def test_a_mount_is_asked_for_and_so_is_its_rating():
    assert finding("payload", tube()).missing == ("a mount, beside the train",)
    unrated = finding("payload", tube(), gear=[mount(None)])
    assert (unrated.weight, unrated.missing) == ("unknown", ("the rated capacity of Stone Mount",))
    assert number(unrated, "load") == 5.0


def test_a_tubes_own_rings_count_and_so_do_those_of_the_rig_until_somebody_says_that_they_are_the_same():
    with_rings = tube(
        mass_with_rings_kg=Measure(nominal=6.2, basis="measured"), mass_kg=Measure(nominal=5.0, basis="maker")
    )
    alone = finding("payload", with_rings, gear=[mount()])
    assert number(alone, "load") == 6.2
    assert (alone.inputs[0].label, alone.inputs[0].basis) == ("mass with rings", "measured")
    own = finding("payload", with_rings, gear=[mount(), PlateAndRings(model="Rings", mass_kg=mm(1.5))])
    assert number(own, "load") == pytest.approx(7.7, abs=ROUNDING_KG)
    assert (own.inputs[0].label, own.inputs[0].basis) == ("mass with rings", "assumed")
    assert "clear its mass with rings" in own.phrase.template
    cleared = tube(mass_kg=5.0)
    same = finding("payload", cleared, gear=[mount(), PlateAndRings(model="Rings", mass_kg=mm(1.5))])
    assert number(same, "load") == pytest.approx(6.5, abs=ROUNDING_KG)
    assert "Assumed" not in same.phrase.template


def test_a_plate_for_a_guide_scope_does_not_take_the_rings_off_the_tube():
    # 9.5 with its rings + 0.2 + 0.6 = 10.3 kg of the 9.0 that are usual on a mount for 15.
    ringed = tube(mass_kg=8.0, mass_with_rings_kg=9.5)
    plate = PlateAndRings(model="Guide plate", mass_kg=mm(0.2))
    found = finding("payload", ringed, camera(), gear=[mount(15.0), plate])
    assert found.weight == "watch"
    assert number(found, "load") == pytest.approx(10.3, abs=ROUNDING_KG)
    pieces = all_pieces(rig(ringed, camera(), gear=[plate]))
    assert [(one.mass_kg, one.basis) for one in pieces if "Tube" in one.name] == [(9.5, "assumed")]


def test_a_tube_that_is_known_with_its_rings_alone_assumes_nothing():
    ringed = tube(mass_kg=None, mass_with_rings_kg=6.2)
    plate = PlateAndRings(model="Guide plate", mass_kg=mm(0.2))
    found = finding("payload", ringed, gear=[mount(), plate])
    assert number(found, "load") == pytest.approx(6.4, abs=ROUNDING_KG)
    assert found.inputs[0].basis != "assumed"


def test_an_empty_rig_has_no_load():
    assert not findings("payload", gear=[mount()])


ORDER = ("payload.sound", "payload.over_usable", "payload.over_rating")


@given(st.floats(0.001, 100.0), st.floats(0.001, 100.0), st.floats(0.5, 200.0))
def test_adding_mass_never_lowers_the_load_nor_lightens_the_verdict(first, more, rated):
    before = finding("payload", tube(mass_kg=first), gear=[mount(rated)])
    after = finding("payload", tube(mass_kg=first), gear=[mount(rated), accessory(more, "saddle")])
    assert number(after, "load") >= number(before, "load")
    assert ORDER.index(after.code) >= ORDER.index(before.code)


def test_a_strain_wave_mount_says_with_what_it_is_rated():
    for rated, words in (
        ("without", "far from the axis"),
        ("with_counterweight", "without one"),
        (None, "enter"),
    ):
        found = finding("payload", tube(), camera(), gear=[mount(mount_type="strain_wave", rated_with=rated)])
        assert words in found.phrase.template
    assert "counterweight" not in finding("payload", tube(), camera(), gear=[mount()]).phrase.template


def test_a_rating_that_wants_a_counterweight_is_not_sound_without_one():
    iron = Counterweight(model="Iron", mass_kg=mm(5.0))
    for rated, asked in (("with_counterweight", "without a counterweight"), (None, "which way")):
        bare = finding("payload", tube(), camera(), gear=[mount(mount_type="strain_wave", rated_with=rated)])
        assert (bare.weight, bare.code) == ("unknown", "payload.rating_unknown")
        assert asked in bare.missing[-1]
        assert not bare.figure.at_least
    hung = [mount(mount_type="strain_wave", rated_with="with_counterweight"), iron]
    assert finding("payload", tube(), camera(), gear=hung).weight == "sound"
    free = [mount(mount_type="strain_wave", rated_with="without")]
    assert finding("payload", tube(), camera(), gear=free).weight == "sound"


def test_a_load_just_over_the_usual_share_is_told_as_a_little_and_one_near_the_rating_as_costing_frames():
    # 6.1 and 9.0 kg of a rating of 10 kg, of which 6 are usual (common practice, no source).
    little = finding("payload", tube(mass_kg=6.1), gear=[mount(10.0)])
    much = finding("payload", tube(mass_kg=9.0), gear=[mount(10.0)])
    assert (little.weight, much.weight) == ("watch", "watch")
    assert "a little over" in little.phrase.template
    assert "cost frames" not in little.phrase.template
    assert little.remedies[0].phrase.template.startswith("In wind: take")
    assert "cost frames" in much.phrase.template
    assert number(little, "taken") == pytest.approx(0.61)
    assert number(much, "taken") == pytest.approx(0.90)


@pytest.mark.parametrize(("rated", "code"), [(10.0, "payload.over_usable"), (5.0, "payload.over_rating")])
def test_a_mount_that_carries_too_much_is_told_with_the_rating_that_the_load_wants(rated, code):
    # 9 kg at six tenths of a rating want one of 15 kg, whatever the mount at hand is rated for.
    found = finding("payload", tube(mass_kg=9.0), gear=[mount(rated)])
    assert found.code == code
    assert found.remedies[0].phrase.amounts["wanted"].value == pytest.approx(15.0, abs=0.05)
    assert found.remedies[0].phrase.amounts["wanted"].value >= 15.0 - ROUNDING_KG


def test_a_mount_with_a_bar_and_no_counterweight_in_the_rig_is_asked_for_them():
    def says(*gear, **of):
        return write_phrase(
            finding("payload", tube(mass_kg=5.0), gear=[mount(10.0, **of), *gear]).phrase, "metric"
        )

    asks = "No counterweight is in the rig: add those that balance it."
    assert asks in says(mount_type="equatorial")
    assert asks not in says(Counterweight(model="Iron", mass_kg=mm(4.0)), mount_type="equatorial")
    assert asks not in says(mount_type="strain_wave", rated_with="without")
