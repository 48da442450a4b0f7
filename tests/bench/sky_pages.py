"""The list of targets and a sketch, through the app: each beside the bare route for an answer as large."""

from __future__ import annotations

from pathlib import Path

from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.rig import PlacePlan, RigPlan
from server.domain.sky.site import Site
from server.settings import Settings
from server.store import open_stores, prepare_database
from tests.bench.measure import Line, Times
from tests.bench.serving import Served
from tests.domain.rigs import camera, tube

COLD_S, WARM_S, SKETCH_S = 0.3, 0.06, 1.0
GARDEN = Site(
    name="The garden",
    latitude_deg=50.0,
    longitude_deg=10.0,
    zone="UTC",
    brightness_by="magnitude",
    brightness=20.4,
    seeing_arcsec=2.5,
)


def run(folder: Path, *, rounds: int = 5, asked: int = 24) -> list[Line]:
    """Starts the app anew for each first answer, then asks for the list again and again, and for sketches.

    Before the first answer another page was shown, so that only what the sky needs is loaded with it.
    """
    observer_id, rig_id = _observatory(folder)
    cold: list[float] = []
    warm: list[float] = []
    months: list[float] = []
    bare: list[float] = []
    first: list[float] = []
    sketches: list[float] = []
    for number in range(rounds):
        with Served(folder, observer_id) as served:
            served.ask("/bench")
            took, content = served.ask(f"/sky?rig={rig_id}")
            if b"NGC " not in content:
                raise RuntimeError("the list of targets shows none")
            cold.append(took)
            first.append(_sketch(served, rig_id, number))
            if number < rounds - 1:
                continue
            for nth in range(asked):
                warm.append(served.ask(f"/sky?rig={rig_id}")[0])
                took, content = served.ask(f"/sky?rig={rig_id}&kind=&month={nth % 12 + 1}")
                months.append(took)
                bare.append(served.bare(len(content)))
            sketches = [_sketch(served, rig_id, nth) for nth in range(asked)]
    return [
        _line("first answer of the list of targets, ms", cold, COLD_S),
        _line("  a later one, ms", warm, WARM_S),
        Line("  all objects, another month each, ms", len(months), Times(tuple(months)).text),
        Line("  the bare route, as many bytes, ms", len(bare), Times(tuple(bare)).text),
        _line("first sketch on 61 megapixels, its stars in it, ms", first, SKETCH_S),
        _line("  a later one, ms", sketches, SKETCH_S),
    ]


def _line(what: str, taken: list[float], aim_s: float) -> Line:
    times = Times(tuple(taken))
    return Line(what, len(taken), times.text, f"median under {aim_s * 1000:.0f}", times.median < aim_s)


def _sketch(served: Served, rig_id: int, nth: int) -> float:
    """The time of a sketch of a large galaxy; the stretch differs, so that no answer is another's."""
    took, content = served.ask(f"/sky/at/NGC%20224/sketch/{rig_id}.png?hours=5&noise={0.001 + 1e-5 * nth}")
    if not content.startswith(b"\x89PNG"):
        raise RuntimeError("the sketch is no picture")
    return took


def _observatory(folder: Path) -> tuple[int, int]:
    """A data folder with an observer, a site, and a rig of 61 megapixels."""
    settings = Settings(data=folder)
    prepare_database(settings.database)
    stores = open_stores(settings.database)
    sensor = camera(
        width_px=9576,
        height_px=6388,
        pixel_um=3.76,
        colour="mono",
        quantum_efficiency=0.9,
        gains=(GainRow(gain=0.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.8),),
        dark_current=(DarkRow(temperature_c=-10.0, dark_e_s=0.002),),
    )
    try:
        with stores.writing() as store:
            observer = store.add_observer("Edda", "metric")
            short = tube(aperture_mm=100.0, focal_length_mm=500.0, obstruction_mm=0.0)
            own = store.add_parts([short, sensor], observer.id)
            places = tuple(PlacePlan(key=at, part_id=number) for at, number in enumerate(own, start=1))
            rig = store.add_rig(observer.id, "Garden refractor", RigPlan(places=places))
            store.add_site(observer.id, GARDEN)
    finally:
        stores.close()
    return observer.id, rig.id
