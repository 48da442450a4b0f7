"""Tubes, correctors, cameras and mounts to choose from, drawn by chance, some figures of them missing."""

from __future__ import annotations

import random
from collections.abc import Iterable
from functools import cache
from typing import Any, TypeVar, cast

from server.domain.measure import Money
from server.domain.parts import Camera, CataloguedPart, Corrector, Mount, OpticalTube, Part
from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.parts.optical import DESIGNS, SpotRow
from server.domain.scout.candidates import Choice
from server.domain.scout.usual import OBSTRUCTION
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from tests.domain.rigs import camera, corrector, item, mount, tube

GARDEN = Site(
    name="The garden",
    latitude_deg=50.0,
    longitude_deg=10.0,
    zone="Europe/Berlin",
    brightness_by="magnitude",
    brightness=20.4,
    seeing_arcsec=2.5,
)
GALAXY = Target(
    name="A", ra_deg=10.0, dec_deg=40.0, major_arcmin=178.0, minor_arcmin=70.0, surface_v_mag=22.2
)
NEBULA = Target(name="B", ra_deg=80.0, dec_deg=-5.0, kind="HII", major_arcmin=66.0, minor_arcmin=60.0)
SMALL = Target(name="C", ra_deg=200.0, dec_deg=47.0, major_arcmin=11.0, minor_arcmin=7.0, surface_v_mag=21.3)
TARGETS = (GALAXY, NEBULA, SMALL)
FULL_SENSOR: dict[str, Any] = {
    "colour": "mono",
    "quantum_efficiency": 0.9,
    "gains": (GainRow(gain=0.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.8),),
    "dark_current": (DarkRow(temperature_c=-10.0, dark_e_s=0.002),),
}
P = TypeVar("P", bound=Part)


def euros(amount: float, currency: str = "EUR") -> Money:
    return Money(hundredths=round(100 * amount), currency=currency)


def choice(
    tubes: Iterable[OpticalTube],
    cameras: Iterable[Camera],
    correctors: Iterable[Corrector] = (),
    mounts: Iterable[Mount] = (),
    owned: Iterable[str] = (),
) -> Choice:
    """What is chosen from; owned: models."""

    def catalogued(parts: Iterable[P]) -> tuple[CataloguedPart[P], ...]:
        return tuple(cast(CataloguedPart[P], item(part)) for part in parts)

    found = Choice(
        catalogued(tubes),
        (None, *catalogued(correctors)),
        catalogued(cameras),
        catalogued(mounts) or (None,),
        frozenset(),
    )
    models = set(owned)
    numbers = frozenset(one.id for one in found.by_number.values() if one.part.model in models)
    return Choice(found.tubes, found.correctors, found.cameras, found.mounts, numbers)


@cache
def drawn(
    seed: int, tubes: int = 14, correctors: int = 4, cameras: int = 5, mounts: int = 5, lacking: float = 0.12
) -> Choice:
    """Parts by chance; each of their lesser figures is missing with the chance `lacking`."""
    rng = random.Random(seed)

    def kept(**given: Any) -> dict[str, Any]:
        return {name: value for name, value in given.items() if rng.random() >= lacking}

    def price(low: float, high: float) -> Money:
        return euros(round(rng.uniform(low, high), 2), "EUR" if rng.random() >= lacking else "USD")

    owned = [f"T{n}" for n in range(0, tubes, 5)] + ["K0", "M1"]
    return choice(
        [_tube(rng, f"T{n}", kept, price(200, 5000)) for n in range(tubes)],
        [_camera(rng, f"K{n}", kept, price(300, 4000)) for n in range(cameras)],
        [_corrector(rng, f"C{n}", kept, price(80, 900)) for n in range(correctors)],
        [_mount(rng, f"M{n}", kept, price(500, 6000)) for n in range(mounts)],
        owned,
    )


def _tube(rng: random.Random, model: str, kept: Any, price: Money) -> OpticalTube:
    design = rng.choice([name for name, _ in DESIGNS])
    aperture = round(rng.uniform(80, 300))
    ratio = round(rng.uniform(3.6, 10.0), 1)
    given: dict[str, Any] = {"mass_kg": round(aperture**2 / 5000 * rng.uniform(0.7, 1.4), 2)}
    shut = OBSTRUCTION[design]
    if shut.high:
        given["obstruction_share"] = round(rng.uniform(shut.low, shut.high), 3)
        given["spider_vanes"] = rng.choice([0, 3, 4])
        given["spider_thickness_mm"] = rng.choice([0.5, 1.0, 2.0])
    if ratio > 5.0:
        given["primary_focal_ratio"] = round(ratio / rng.uniform(1.8, 4.0), 2)
    if rng.random() < 0.2:
        given["mass_with_rings_kg"] = given["mass_kg"] + 1.3
    if rng.random() < 0.3:
        given["spot_sizes"] = (
            SpotRow(height_mm=0.0, spot_um=3.0),
            SpotRow(height_mm=rng.uniform(10.0, 30.0), spot_um=rng.uniform(4.0, 15.0)),
        )
    given |= {
        "design": design,
        "price": price,
        "back_focus_mm": round(rng.uniform(80, 160), 1),
        "drawtube_bore_mm": rng.choice([46.0, 50.0, 65.0]),
        "aperture_mm": aperture,
        "focal_length_mm": round(aperture * ratio),
    }
    return tube(**({"model": model, "mass_kg": None, "design": None} | kept(**given)))


def _corrector(rng: random.Random, model: str, kept: Any, price: Money) -> Corrector:
    kind = rng.choice(["flattener", "reducer", "coma_corrector", "extender"])
    factor = {"reducer": 0.75, "extender": 1.6}.get(kind, 1.0)
    given: dict[str, Any] = {
        "corrector_type": kind,
        "factor": factor,
        "back_focus_mm": rng.choice([55.0, 55.0, 66.3, 40.0]),
        "mass_kg": round(rng.uniform(0.2, 1.1), 2),
        "price": price,
    }
    if rng.random() < 0.3:
        given["slowest_ratio"] = 7.0
    return corrector(**({"model": model, "mass_kg": None, "price": None} | kept(**given)))


def _camera(rng: random.Random, model: str, kept: Any, price: Money) -> Camera:
    across = rng.choice([1900, 4100, 6200])
    given: dict[str, Any] = {
        "colour": rng.choice(["mono", "colour"]),
        "quantum_efficiency": round(rng.uniform(0.5, 0.95), 2),
        "gains": FULL_SENSOR["gains"],
        "dark_current": FULL_SENSOR["dark_current"],
        "mass_kg": round(rng.uniform(0.3, 1.2), 3),
        "price": price,
    }
    pixels = {"width_px": across, "height_px": across * 2 // 3, "pixel_um": rng.choice([2.9, 3.76, 4.63])}
    return camera(**({"model": model, "mass_kg": None, "price": None} | pixels | kept(**given)))


def _mount(rng: random.Random, model: str, kept: Any, price: Money) -> Mount:
    mass = round(rng.uniform(4, 30), 1)
    given: dict[str, Any] = {"rated_kg": round(rng.uniform(6, 40)), "mass_kg": mass, "price": price}
    if rng.random() < 0.4:
        given["heaviest_piece_kg"] = round(mass * 0.6, 1)
    return mount(**({"model": model, "rated_kg": None, "price": None} | kept(**given)))
