"""A catalogue of any size with invented makers, an observer with a shelf, and a rig of fourteen parts.

The same numbers give the same catalogue, so that runs can be compared.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from pathlib import Path

from server.domain.connections import read_connection
from server.domain.measure import Measure, Money
from server.domain.observer import Holding
from server.domain.parts import PART, Part
from server.domain.rig import GearPlan, PlacePlan, RigPlan
from server.settings import Settings
from server.store import SqlStore, open_stores, prepare_database

MAKERS = (
    "Brindlewick",
    "Calderpike",
    "Nettlewatt",
    "Ostervane",
    "Quillmoor",
    "Sennlicht",
    "Stonecrake",
    "Tarnholt",
    "Marlowhite",
    "Fennigate",
    "Ravelbeck",
    "Ulmenrain",
    "Dovrefell",
    "Kestelbrook",
    "Wintermoss",
    "Harrowdene",
)
SERIES = (
    "Lantern",
    "Meridian",
    "Halo",
    "Plover",
    "Umbra",
    "Corona",
    "Lattice",
    "Sable",
    "Aster",
    "Vesper",
    "Cinder",
    "Drift",
    "Ember",
    "Fathom",
    "Gannet",
    "Hollow",
    "Ibis",
    "Juniper",
    "Kelp",
    "Lichen",
)
NOTES = (
    "Bought at the club's spring table.",
    "Anodised black, blackened bore.",
    "The thread is a little stiff.",
    "Weighed without its caps.",
    "Length measured with calipers at three places.",
    "",
    "",
    "",
)
THREADS = ("M42x0.75", "M48x0.75", "M54x0.75", "M63x1", "M68x1", "2 in barrel")
KINDS = (
    "spacer_ring",
    "spacer_ring",
    "spacer_ring",
    "adapter",
    "adapter",
    "adapter",
    "filter",
    "filter",
    "filter",
    "corrector",
    "optical_tube",
    "camera",
    "filter_wheel",
    "off_axis_guider",
    "rotator",
    "guide_camera",
)
SHELF_SIZE = 300
"""How many parts of the catalogue the observer owns: a large shelf."""

_AT_ONCE = 5000


@dataclass(frozen=True)
class Workshop:
    """A prepared data folder.

    Attributes:
        settings: the settings that serve it.
        parts: how many parts the catalogue holds.
        observer_id: who is at the bench.
        rig_id, version: the rig and its version.
        ring: key of the place that the benchmark moves; `ring_at` are the two indexes it moves between.
    """

    settings: Settings
    parts: int
    observer_id: int
    rig_id: int
    version: int
    ring: int
    ring_at: tuple[int, int]


def make_workshop(folder: Path, parts: int) -> Workshop:
    """Makes the database in an empty folder with `parts` parts, those of the rig among them."""
    settings = Settings(data=folder)
    prepare_database(settings.database)
    stores = open_stores(settings.database)
    dice = random.Random(20261104)
    try:
        with stores.writing() as store:
            observer = store.add_observer("Edda", "metric")
            own = store.add_parts(train_parts() + gear_parts(), observer.id)
            for number in own:
                store.set_holding(observer.id, number, Holding(owned=1))
        left = parts - len(own)
        while left > 0:
            with stores.writing() as store:
                made = store.add_parts([some_part(dice) for _ in range(min(left, _AT_ONCE))], observer.id)
                if left == parts - len(own):
                    for number in made[:SHELF_SIZE]:
                        store.set_holding(observer.id, number, Holding(owned=1))
            left -= len(made)
        with stores.writing() as store:
            rig_id, version = _add_rig(store, observer.id, own)
    finally:
        stores.close()
    return Workshop(settings, parts, observer.id, rig_id, version, ring=6, ring_at=(5, 9))


def _add_rig(store: SqlStore, observer_id: int, own: list[int]) -> tuple[int, int]:
    train, gear = own[:14], own[14:]
    wheel = next(at for at, part in enumerate(train_parts()) if part.kind == "filter_wheel")
    inside = tuple(number for number in gear if store.part(number).kind == "filter")
    plan = RigPlan(
        places=tuple(
            PlacePlan(key=at + 1, part_id=number, inside=inside if at == wheel else ())
            for at, number in enumerate(train)
        ),
        gear=tuple(GearPlan(part_id=number, quantity=1) for number in gear if number not in inside),
    )
    stored = store.add_rig(observer_id, "Garden refractor", plan)
    return stored.id, stored.version


def _part(kind: str, maker: str, model: str, **fields: object) -> Part:
    for side in ("sky_side", "camera_side", "side_port", "dovetail", "saddle"):
        if side in fields:
            fields[side] = read_connection(str(fields[side]))
    for name, value in fields.items():
        if isinstance(value, float):
            fields[name] = Measure(nominal=value)
    return PART.validate_python({"kind": kind, "maker": maker, "model": model, **fields})


def _exact(nominal: float, tolerance: float) -> Measure:
    return Measure(nominal=nominal, plus=tolerance, minus=tolerance, basis="measured")


def train_parts() -> list[Part]:
    """A refractor's train of fourteen parts, sky to sensor; the figures are invented and plausible.

    The third ring, at index 5, mates where it stands; moved to index 9 it meets threads that it does not fit.
    """
    ring = {"mass_kg": 0.03, "clear_aperture_mm": 50.0, "reversible": False}
    return [
        _part(
            "optical_tube",
            "Brindlewick",
            "Lantern 81",
            design="apochromat",
            aperture_mm=81.0,
            focal_length_mm=478.0,
            camera_side="M63x1 female",
            image_circle_mm=44.0,
            back_focus_mm=140.0,
            focuser_in_mm=10.0,
            focuser_out_mm=70.0,
            drawtube_bore_mm=60.0,
            tube_length_mm=420.0,
            outer_diameter_mm=96.0,
            mass_kg=2.9,
            mass_with_rings_kg=3.5,
        ),
        _part(
            "adapter",
            "Calderpike",
            "Step 63-54",
            sky_side="M63x1 male",
            camera_side="M54x0.75 female",
            length_mm=_exact(6.0, 0.05),
            clear_aperture_mm=52.0,
            mass_kg=0.05,
        ),
        _part(
            "corrector",
            "Sennlicht",
            "Level 0.8",
            corrector_type="reducer",
            factor=0.8,
            sky_side="M54x0.75 male",
            camera_side="M54x0.75 male",
            back_focus_mm=_exact(105.0, 1.0),
            length_mm=38.0,
            clear_aperture_mm=46.0,
            corrected_circle_mm=42.0,
            mass_kg=0.32,
        ),
        _part(
            "spacer_ring",
            "Tarnholt",
            "Ring 54/10",
            sky_side="M54x0.75 female",
            camera_side="M54x0.75 male",
            length_mm=_exact(10.0, 0.05),
            **ring,
        ),
        _part(
            "rotator",
            "Quillmoor",
            "Turnstile",
            sky_side="M54x0.75 female",
            camera_side="M54x0.75 male",
            length_mm=_exact(14.0, 0.1),
            clear_aperture_mm=50.0,
            mass_kg=0.4,
            capacity_kg=3.0,
        ),
        _part(
            "spacer_ring",
            "Tarnholt",
            "Ring 54/5",
            sky_side="M54x0.75 female",
            camera_side="M54x0.75 male",
            length_mm=_exact(5.0, 0.05),
            **ring,
        ),
        _part(
            "adapter",
            "Calderpike",
            "Step 54-48",
            sky_side="M54x0.75 female",
            camera_side="M48x0.75 male",
            length_mm=_exact(4.0, 0.05),
            clear_aperture_mm=46.0,
            mass_kg=0.04,
        ),
        _part(
            "off_axis_guider",
            "Ostervane",
            "Corner 8",
            sky_side="M48x0.75 female",
            camera_side="M48x0.75 male",
            length_mm=_exact(17.1, 0.1),
            clear_aperture_mm=46.0,
            prism_mm=8.0,
            prism_at_mm=8.0,
            side_port="M42x0.75 female",
            mass_kg=0.3,
        ),
        _part(
            "spacer_ring",
            "Tarnholt",
            "Ring 48/7",
            sky_side="M48x0.75 female",
            camera_side="M48x0.75 male",
            length_mm=_exact(7.0, 0.05),
            **ring,
        ),
        _part(
            "filter_wheel",
            "Nettlewatt",
            "Carousel 7",
            sky_side="M48x0.75 female",
            camera_side="M48x0.75 female",
            positions=7,
            format="round_36",
            filter_at_mm=11.0,
            length_mm=_exact(22.6, 0.1),
            clear_aperture_mm=35.0,
            mass_kg=0.65,
        ),
        _part(
            "adapter",
            "Calderpike",
            "Step 48-42",
            sky_side="M48x0.75 male",
            camera_side="M42x0.75 male",
            length_mm=_exact(2.0, 0.05),
            clear_aperture_mm=39.0,
            mass_kg=0.03,
        ),
        _part(
            "spacer_ring",
            "Tarnholt",
            "Ring 42/3",
            sky_side="M42x0.75 female",
            camera_side="M42x0.75 male",
            length_mm=_exact(3.0, 0.05),
            mass_kg=0.02,
            clear_aperture_mm=39.0,
        ),
        _part(
            "tilt_adjuster",
            "Stonecrake",
            "Square",
            sky_side="M42x0.75 female",
            camera_side="M42x0.75 male",
            length_mm=_exact(8.0, 0.1),
            clear_aperture_mm=40.0,
            mass_kg=0.12,
        ),
        _part(
            "camera",
            "Sennlicht",
            "Vigil 23M",
            sky_side="M42x0.75 female",
            flange_mm=_exact(14.3, 0.2),
            flange_quoted="mechanical",
            window_thickness_mm=2.0,
            width_px=5890,
            height_px=3930,
            pixel_um=4.0,
            colour="mono",
            mass_kg=0.5,
        ),
    ]


def gear_parts() -> list[Part]:
    """What rides beside that train, and the filters in its wheel."""
    filters = [
        _part(
            "filter",
            "Ravelbeck",
            f"{name} 36",
            format="round_36",
            thickness_mm=_exact(2.0, 0.05),
            refractive_index=1.52,
            mass_kg=0.01,
        )
        for name in ("Clear", "Red", "Green", "Blue", "Narrow H")
    ]
    return [
        *filters,
        _part("mount", "Harrowdene", "Ploughshare", rated_kg=15.0, mass_kg=9.0),
        _part("counterweight", "Harrowdene", "Weight 3", mass_kg=3.0),
        _part(
            "guide_camera",
            "Sennlicht",
            "Vigil G",
            sky_side="M42x0.75 male",
            flange_mm=8.5,
            pixel_um=2.9,
            width_px=1920,
            height_px=1080,
            mass_kg=0.1,
        ),
        _part("power_source", "Nettlewatt", "Pail", mass_kg=2.2),
    ]


def some_part(dice: random.Random) -> Part:
    """One of the many parts that fill the catalogue."""
    kind = dice.choice(KINDS)
    thread, other = dice.choice(THREADS), dice.choice(THREADS)
    length = round(dice.uniform(1.0, 40.0), 1)
    fields: dict[str, object] = {
        "mass_kg": round(dice.uniform(0.02, 3.0), 3),
        "note": dice.choice(NOTES),
        "price": Money(hundredths=dice.randrange(900, 200_000), currency="EUR"),
    }
    if kind == "optical_tube":
        aperture = float(dice.randrange(50, 300, 5))
        fields |= {"aperture_mm": aperture, "focal_length_mm": aperture * dice.choice((4.0, 5.0, 6.0, 7.0))}
        fields |= {"design": dice.choice(("apochromat", "newtonian")), "camera_side": f"{thread} female"}
    elif kind in ("camera", "guide_camera"):
        fields |= {
            "sky_side": f"{thread} female",
            "flange_mm": dice.choice((6.5, 12.5, 17.5)),
            "pixel_um": 4.0,
        }
        fields |= {"width_px": 5890, "height_px": 3930}
    else:
        other = thread if kind == "spacer_ring" else other
        fields |= {"sky_side": f"{thread} female", "camera_side": f"{other} male", "length_mm": length}
        fields |= {"clear_aperture_mm": 40.0}
    model = f"{dice.choice(SERIES)} {dice.randrange(1, 400)}{dice.choice(('', ' II', ' Mk 3', ' light'))}"
    return _part(kind, dice.choice(MAKERS), model, **fields)
