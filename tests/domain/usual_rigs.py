"""Eight rigs of usual kinds, with figures of the tests' own: what a practitioner would say of each stands in
tests/domain/test_usual_rigs.py.
"""

from __future__ import annotations

from typing import Any

from server.domain.connections import read_connection
from server.domain.load_plan import LoadPlan
from server.domain.parts import Accessory, Counterweight, PlateAndRings, PowerSource, Support
from server.domain.parts.optical import SpotRow
from server.domain.rig import Rig, Rules
from tests.domain.rigs import (
    M42F,
    M42M,
    M48F,
    M48M,
    adapter,
    camera,
    corrector,
    glass,
    guide_camera,
    guider,
    holding,
    mm,
    mount,
    rig,
    ring,
    tube,
    wheel,
)

M54F, M54M = read_connection("M54x0.75 female"), read_connection("M54x0.75 male")
SHARP = (SpotRow(height_mm=0.0, spot_um=4.0), SpotRow(height_mm=22.0, spot_um=7.0))
#: 6248 x 4176 pixels of 3.8 um: 23.7 x 15.9 mm.
CROP = {"width_px": 6248, "height_px": 4176, "pixel_um": 3.8}
#: 9300 x 6220 pixels of 3.9 um: 36.3 x 24.3 mm.
FULL = {"width_px": 9300, "height_px": 6220, "pixel_um": 3.9}
CALM = Rules(night_fall_k=8.0)


def beside(rated_kg: float, weights_kg: float, **given: Any) -> tuple[Any, ...]:
    """A counterweighted mount of its own on a tripod, with one counterweight."""
    usual = {
        "mount_type": "equatorial",
        "rated_with": "with_counterweight",
        "mass_kg": 9.0,
        "heaviest_piece_kg": 9.0,
        "bar_diameter_mm": 20.0,
        "bar_length_mm": 330.0,
        "bar_start_mm": 110.0,
        "bar_mass_kg": 0.8,
    }
    figures = {
        name: mm(value) if isinstance(value, float) else value for name, value in (usual | given).items()
    }
    return (
        mount(rated_kg, **figures),
        Support(maker="Stone", model="Tripod", capacity_kg=mm(60.0), mass_kg=mm(6.5)),
        Counterweight(maker="Stone", model="Weight", mass_kg=mm(weights_kg), bore_mm=mm(20.0)),
    )


def held(mass_kg: float) -> PlateAndRings:
    """A tube's rings on their plate."""
    return PlateAndRings(maker="Stone", model="Rings", mass_kg=mm(mass_kg), plate_length_mm=mm(330.0))


def fast_newtonian() -> Rig:
    """203 mm f/4 with a coma corrector at its place, a crop sensor, one filter."""
    scope = tube(
        design="newtonian",
        aperture_mm=203.0,
        focal_length_mm=812.0,
        obstruction_mm=70.0,
        secondary_mm=70.0,
        diagonal_to_focus_mm=222.0,
        diagonal_offset_mm=4.0,
        back_focus_mm=78.0,
        focuser_in_mm=15.0,
        focuser_out_mm=30.0,
        drawtube_bore_mm=52.0,
        tube_length_mm=760.0,
        tube_material="steel",
        outer_diameter_mm=235.0,
        camera_side=M54F,
        image_circle_mm=None,
        mass_kg=7.9,
        focuser_capacity_kg=4.0,
        spider_vanes=4,
        spider_thickness_mm=0.8,
        collimation_adjustable=True,
    )
    lens = corrector(
        model="Coma",
        corrector_type="coma_corrector",
        back_focus_mm=mm(55.0, 0.5),
        length_mm=14.0,
        corrected_circle_mm=38.0,
        spot_sizes=SHARP,
        for_designs=("newtonian",),
        sky_side=M54M,
        clear_aperture_mm=47.0,
    )
    drawer = holding(wheel(20.5, model="Drawer", positions=1), glass(2.0, format="mounted_2"))
    return rig(
        scope,
        lens,
        drawer,
        ring(17.6),
        camera(**CROP),
        gear=(*beside(25.0, 5.0), held(1.6)),
        rules=CALM,
    )


def narrow_reducer() -> Rig:
    """80 mm f/6 with a 0.8 reducer, a full frame, and an M42 ring before the camera."""
    scope = tube(
        design="apochromat",
        aperture_mm=80.0,
        focal_length_mm=480.0,
        back_focus_mm=125.0,
        focuser_in_mm=20.0,
        focuser_out_mm=60.0,
        drawtube_bore_mm=62.0,
        tube_length_mm=400.0,
        tube_material="aluminium",
        camera_side=M54F,
        image_circle_mm=None,
        mass_kg=3.1,
    )
    lens = corrector(
        model="Reducer",
        corrector_type="reducer",
        factor=0.8,
        back_focus_mm=mm(55.0, 0.5),
        length_mm=36.0,
        glass_length_mm=20.0,
        corrected_circle_mm=44.0,
        spot_sizes=SHARP,
        sky_side=M54M,
        clear_aperture_mm=48.0,
    )
    tight = {"clear_aperture_mm": 38.0}
    return rig(
        scope,
        lens,
        adapter(10.0, model="To M42", sky_side=M48M, camera_side=M42F, clear_aperture_mm=44.0, mass_kg=0.1),
        ring(27.5, model="Narrow", sky_side=M42M, camera_side=M42F, **tight),
        camera(**FULL, sky_side=M42M),
        gear=(*beside(15.0, 3.0), held(0.9)),
        rules=CALM,
    )


def reduced_far_out() -> Rig:
    """203 mm f/10 Schmidt-Cassegrain, its reducer 12 mm too far from the sensor, an off-axis guider."""
    scope = tube(
        design="schmidt_cassegrain",
        aperture_mm=203.0,
        focal_length_mm=2030.0,
        obstruction_mm=69.0,
        primary_focal_ratio=2.0,
        mirror_separation_mm=318.0,
        back_focus_mm=140.0,
        focuser_in_mm=200.0,
        focuser_out_mm=200.0,
        drawtube_bore_mm=38.0,
        tube_length_mm=430.0,
        tube_material="aluminium",
        camera_side=M48F,
        image_circle_mm=None,
        mass_kg=5.9,
        collimation_adjustable=True,
    )
    lens = corrector(
        model="Reducer",
        corrector_type="reducer",
        factor=0.63,
        back_focus_mm=mm(104.0, 5.0),
        length_mm=30.0,
        glass_length_mm=12.0,
        corrected_circle_mm=29.0,
        spot_sizes=SHARP,
        clear_aperture_mm=41.0,
    )
    side = guider(
        side_port=M42F,
        length_mm=18.0,
        prism_at_mm=9.0,
        reach_from_mm=10.0,
        reach_to_mm=16.0,
        side_path_mm=32.0,
    )
    return rig(
        scope,
        lens,
        ring(40.0),
        ring(12.0, model="Short"),
        side,
        ring(28.5, model="Last"),
        camera(**CROP),
        gear=(*beside(20.0, 5.0), held(0.8), guide_camera(sky_side=M42M)),
        rules=CALM,
    )


def heavy_cassegrain() -> Rig:
    """250 mm f/8 Ritchey-Chretien of 17 kg on a mount rated 20 kg."""
    scope = tube(
        design="ritchey_chretien",
        aperture_mm=250.0,
        focal_length_mm=2000.0,
        obstruction_mm=118.0,
        primary_focal_ratio=3.0,
        mirror_separation_mm=508.0,
        back_focus_mm=215.0,
        focuser_in_mm=10.0,
        focuser_out_mm=40.0,
        drawtube_bore_mm=62.0,
        tube_length_mm=700.0,
        tube_material="carbon_fibre",
        camera_side=M54F,
        image_circle_mm=50.0,
        mass_kg=16.5,
        spider_vanes=4,
        spider_thickness_mm=1.2,
        collimation_adjustable=True,
        spot_sizes=SHARP,
    )
    return rig(
        scope,
        ring(120.0, model="Long", sky_side=M54M, camera_side=M54F, clear_aperture_mm=52.0, mass_kg=0.3),
        ring(60.0, model="Short", sky_side=M54M, camera_side=M48F, clear_aperture_mm=50.0),
        camera(**FULL),
        gear=(*beside(20.0, 10.0), held(2.4)),
        rules=CALM,
        load=LoadPlan(lift_limit_kg=15.0),
    )


def fast_lens() -> Rig:
    """135 mm f/2 lens on a bayonet of 44 mm, its adapter 0.4 mm too long, a filter of 3 nm."""
    bayonet = read_connection("Fen bayonet female"), read_connection("Fen bayonet male")
    scope = tube(
        design="camera_lens",
        aperture_mm=67.5,
        focal_length_mm=135.0,
        back_focus_mm=mm(44.0, 0.1),
        exit_pupil_mm=95.0,
        drawtube_bore_mm=None,
        camera_side=bayonet[1],
        image_circle_mm=43.5,
        mass_kg=0.9,
        tube_material="aluminium",
        tube_length_mm=120.0,
        spot_sizes=SHARP,
    )
    narrow = glass(2.0, model="H-alpha", band_centre_nm=656.3, band_width_nm=3.0, format="mounted_2")
    return rig(
        scope,
        adapter(
            7.4, model="Bayonet", sky_side=bayonet[0], camera_side=M48M, clear_aperture_mm=42.0, mass_kg=0.1
        ),
        holding(wheel(20.2, sky_side=M48F, clear_aperture_mm=46.0), narrow),
        camera(**CROP, sky_side=M48M),
        gear=(*beside(8.0, 2.0), held(0.5)),
        rules=CALM,
    )


def out_of_reach() -> Rig:
    """305 mm f/4 Newtonian whose focus lies too near for its corrector and camera."""
    scope = tube(
        design="newtonian",
        aperture_mm=305.0,
        focal_length_mm=1220.0,
        obstruction_mm=88.0,
        back_focus_mm=60.0,
        focuser_in_mm=5.0,
        focuser_out_mm=45.0,
        drawtube_bore_mm=51.0,
        tube_length_mm=1100.0,
        tube_material="steel",
        camera_side=M54F,
        image_circle_mm=None,
        mass_kg=19.0,
        spider_vanes=4,
        spider_thickness_mm=1.0,
        collimation_adjustable=True,
    )
    lens = corrector(
        model="Coma",
        corrector_type="coma_corrector",
        back_focus_mm=mm(55.0, 0.5),
        length_mm=22.0,
        corrected_circle_mm=40.0,
        spot_sizes=SHARP,
        sky_side=M54M,
        clear_aperture_mm=47.0,
    )
    return rig(
        scope,
        lens,
        ring(37.5),
        camera(**CROP),
        gear=(*beside(50.0, 10.0), held(3.0)),
        rules=CALM,
        load=LoadPlan(lift_limit_kg=25.0),
    )


def long_with_extender() -> Rig:
    """152 mm f/12 Maksutov with a 2x extender 30 mm further from the sensor than it is made for, for
    planets.
    """
    scope = tube(
        design="maksutov",
        aperture_mm=152.0,
        focal_length_mm=1824.0,
        obstruction_mm=50.0,
        primary_focal_ratio=2.5,
        mirror_separation_mm=300.0,
        back_focus_mm=100.0,
        focuser_in_mm=150.0,
        focuser_out_mm=150.0,
        drawtube_bore_mm=28.0,
        tube_length_mm=400.0,
        tube_material="aluminium",
        camera_side=M42F,
        image_circle_mm=28.0,
        mass_kg=5.2,
    )
    extender = corrector(
        model="Extender",
        corrector_type="extender",
        factor=2.0,
        back_focus_mm=60.0,
        length_mm=40.0,
        corrected_circle_mm=None,
        sky_side=M42M,
        camera_side=M42F,
        clear_aperture_mm=27.0,
    )
    return rig(
        scope,
        extender,
        ring(72.5, sky_side=M42M, camera_side=M42F, clear_aperture_mm=38.0),
        camera(width_px=3000, height_px=2000, pixel_um=2.9, sky_side=M42M, clear_aperture_mm=38.0),
        gear=(*beside(18.0, 5.0), held(0.7)),
        rules=CALM,
    )


def cold_night_out() -> Rig:
    """A 9 kg rig carried afield: cooled camera, heaters and a computer on a small battery at -10 C."""
    scope = tube(
        design="apochromat",
        aperture_mm=72.0,
        focal_length_mm=430.0,
        back_focus_mm=110.0,
        focuser_in_mm=15.0,
        focuser_out_mm=50.0,
        drawtube_bore_mm=58.0,
        tube_length_mm=360.0,
        tube_material="aluminium",
        camera_side=M48F,
        image_circle_mm=None,
        mass_kg=2.2,
    )
    flat = corrector(back_focus_mm=mm(55.0, 0.5), corrected_circle_mm=40.0, spot_sizes=SHARP, length_mm=25.0)
    cooled = camera(**CROP, current_idle_a=0.6, current_cooling_a=2.6, mass_kg=0.7)
    watch = guide_camera(current_idle_a=0.15, voltage_v=5.0)
    battery = PowerSource(
        maker="Nettle",
        model="Pack",
        chemistry="lifepo4",
        voltage_v=mm(12.8),
        capacity_ah=mm(12.0),
        usable_share=mm(0.9),
        mass_kg=mm(1.6),
    )
    small = mount(
        9.0,
        mount_type="strain_wave",
        rated_with="without",
        mass_kg=mm(3.3),
        heaviest_piece_kg=mm(3.3),
        current_a=mm(0.8),
        voltage_v=mm(12.0),
    )
    legs = Support(maker="Stone", model="Legs", capacity_kg=mm(20.0), mass_kg=mm(2.0))
    heater = Accessory(
        maker="Nettle", model="Heater", place="tube", mass_kg=mm(0.1), current_a=mm(0.7), voltage_v=mm(12.0)
    )
    computer = Accessory(
        maker="Nettle", model="Computer", place="tube", mass_kg=mm(0.3), current_a=mm(1.2), voltage_v=mm(12.0)
    )
    return rig(
        scope,
        flat,
        ring(37.5),
        cooled,
        gear=(small, legs, battery, heater, computer, watch, held(0.6)),
        rules=CALM,
        load=LoadPlan(night_hours=9.0, low_c=-10.0, cooling_k=25.0),
    )
