"""Small star frames with a known truth, and a rig that took them: gaussian spots on an even sky.

A spot's variance is that of the air and of a defocused disc, d^2 / (16 N^2 p^2) an axis for an evenly lit
pupil. Enough to see that what was put in comes out; the accuracy of the measuring has tests of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from server.domain.connections import read_connection
from server.domain.frames.asked import FrameAsked, SetAsked
from server.domain.frames.measured import Light, Measured
from server.domain.frames.measuring import measure_set
from server.domain.measure import Measure
from server.domain.observer import Holding
from server.domain.parts import Camera, OpticalTube
from server.flow.assemble_train import AddPart
from server.flow.protocols import StoredRig
from server.flow.workbench import Workbench

WIDTH, HEIGHT = 600, 400
RATIO, PIXEL_UM = 6.0, 3.8
AWAY_UM = 90.0
"""Four pixels times the focal ratio, as the plan of frames asks."""
STEP_UM = 0.5
SEEING_PX = 1.4
LIGHT = Light(focal_ratio=RATIO, obstruction=0.0, pixel_um=PIXEL_UM)


@dataclass(frozen=True)
class Truth:
    """What is wrong with the field, um: `tilt` towards the right a half diagonal, `curvature` at a corner."""

    tilt: complex = 30.0 + 0.0j
    curvature: float = 0.0


def places() -> tuple[np.ndarray, np.ndarray]:
    """Where the stars stand: a grid, shaken, so that none crowds another."""
    chance = np.random.default_rng(16)
    x, y = np.meshgrid(np.arange(30.0, WIDTH - 25.0, 34.0), np.arange(30.0, HEIGHT - 25.0, 34.0))
    shaken = chance.uniform(-4.0, 4.0, (2, *x.shape))
    return (x + shaken[0]).ravel(), (y + shaken[1]).ravel()


def picture(focus_um: float, truth: Truth = Truth(), seed: int = 1) -> np.ndarray:
    """A frame taken with the sensor at `focus_um`, as counts; its rows count upwards."""
    chance = np.random.default_rng(seed)
    x, y = places()
    half = 0.5 * float(np.hypot(WIDTH, HEIGHT))
    w = ((x - (WIDTH - 1) / 2.0) + 1j * (y - (HEIGHT - 1) / 2.0)) / half
    away = focus_um - (np.conj(truth.tilt) * w).real - truth.curvature * np.abs(w) ** 2
    variance = SEEING_PX**2 + away**2 / (16.0 * RATIO**2 * PIXEL_UM**2)
    light = 10.0 ** np.random.default_rng(7).uniform(4.6, 5.3, len(x))
    sky = np.full((HEIGHT, WIDTH), 300.0)
    for at_x, at_y, spread, counts in zip(x, y, variance, light, strict=True):
        columns = np.arange(max(0, int(at_x) - 16), min(WIDTH, int(at_x) + 17))
        rows = np.arange(max(0, int(at_y) - 16), min(HEIGHT, int(at_y) + 17))
        square = (columns[None, :] - at_x) ** 2 + (rows[:, None] - at_y) ** 2
        spot = counts / (2.0 * np.pi * spread) * np.exp(-square / (2.0 * spread))
        sky[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] += spot
    return np.clip(np.rint(chance.poisson(sky) + chance.normal(0.0, 3.0, sky.shape)), 0, 65535)


def fits(pixels: np.ndarray, **cards: float | str) -> bytes:
    """A FITS file of 16-bit whole numbers, by the standard: cards of 80 letters, blocks of 2880 bytes."""
    height, width = pixels.shape
    said: dict[str, object] = {"BITPIX": 16, "NAXIS": 2, "NAXIS1": width, "NAXIS2": height}
    said |= {"BZERO": 32768, "BSCALE": 1, **cards}
    lines = ["SIMPLE  =                    T"]
    for name, value in said.items():
        lines.append(f"{name:<8}= " + (f"'{value}'" if isinstance(value, str) else f"{value!s:>20}"))
    head = "".join(f"{line:<80}" for line in (*lines, "END")).encode("ascii")
    data = (pixels - 32768.0).astype(">i2").tobytes()
    return head + b" " * (-len(head) % 2880) + data + b"\0" * (-len(data) % 2880)


def frame(focus_um: float, truth: Truth = Truth(), seed: int = 1, **cards: float | str) -> bytes:
    """A frame at `focus_um` as a FITS file."""
    return fits(picture(focus_um, truth, seed), **cards)


def pair(truth: Truth = Truth()) -> dict[str, bytes]:
    """The two frames that the plan asks for, by name; their headers say where the focuser stood."""
    return {
        name: frame(focus, truth, seed, FOCUSPOS=10_000 + focus / STEP_UM)
        for seed, (name, focus) in enumerate({"out.fits": AWAY_UM, "in.fits": -AWAY_UM}.items())
    }


def measured(folder: Path, truth: Truth = Truth(), spacing_mm: float | None = 55.0) -> Measured:
    """What the two frames say, measured here and now."""
    asked = []
    for name, content in pair(truth).items():
        (folder / name).write_bytes(content)
        focus = AWAY_UM if name == "out.fits" else -AWAY_UM
        asked.append(FrameAsked(file=str(folder / name), name=name, focuser=focus / STEP_UM))
    wanted = SetAsked(
        frames=tuple(asked),
        light=LIGHT,
        step_um=STEP_UM,
        spacing_mm=spacing_mm,
        sensor_px=(WIDTH, HEIGHT),
    )
    return measure_set(wanted, datetime(2026, 3, 1, 21, 30, tzinfo=UTC))


def take_rig(bench: Workbench, name: str = "Garden") -> StoredRig:
    """A refractor of f/6 and a camera with a sensor as small as these frames."""
    tube = OpticalTube(
        kind="optical_tube",
        maker="Halden",
        model="Nordlicht 80",
        design="apochromat",
        aperture_mm=Measure(nominal=80.0),
        focal_length_mm=Measure(nominal=480.0),
        camera_side=read_connection("M42x0.75 male"),
    )
    camera = Camera(
        kind="camera",
        maker="Halden",
        model="Auge 1",
        sky_side=read_connection("M42x0.75 female"),
        flange_mm=Measure(nominal=17.5),
        width_px=WIDTH,
        height_px=HEIGHT,
        pixel_um=Measure(nominal=PIXEL_UM),
    )
    rig = bench.new_rig(name)
    for part in (tube, camera):
        item = bench.add_part(part, Holding(owned=1))
        rig = bench.change_rig(rig.id, rig.version, AddPart(verb="add", part_id=item.id)).stored
    return rig
