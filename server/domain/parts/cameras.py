"""Cameras for imaging and for guiding."""

from __future__ import annotations

from math import hypot
from typing import ClassVar, Literal

from server.domain.connections import Connection
from server.domain.fields import (
    Column,
    choice,
    connection,
    count,
    flag,
    least_voltage,
    mass,
    measure,
    supply_voltage,
    table,
)
from server.domain.measure import Frozen, Measure, nominal
from server.domain.parts.base import BasePart
from server.domain.parts.capabilities import Draw, Pane
from server.domain.said import Quantity, said
from server.mechanics.batteries import cooling_current_a, cooling_short_k


class GainRow(Frozen):
    """The sensor at one gain: read noise and full well in electrons, conversion in electrons per count."""

    gain: float
    read_noise_e: float
    full_well_e: float
    conversion_e: float


class DarkRow(Frozen):
    """Dark current (electrons per second and pixel) at a sensor temperature (degrees Celsius)."""

    temperature_c: float
    dark_e_s: float


class BaseCamera(BasePart):
    """A camera: the end of a train. Its length is its flange distance, front shoulder to sensor.

    `flange_quoted` says whether that distance is mechanical (the glass of the window then lengthens the asked
    back focus) or optical (the maker has already allowed for the window).
    """

    on_path: ClassVar[bool] = True

    sky_side: Connection | None = connection("Front connection", "Like M42x0.75 female.")
    flange_mm: Measure | None = measure(
        "Flange distance", "length", 200.0, help="Front shoulder to sensor.", group="Connections"
    )
    flange_quoted: Literal["mechanical", "optical"] | None = choice(
        "The flange distance is",
        (("mechanical", "mechanical (a ruler's)"), ("optical", "optical (the window is allowed for)")),
        group="Connections",
    )
    window_thickness_mm: Measure | None = measure(
        "Window thickness", "length", 20.0, above=False, help="0 for none.", group="Connections"
    )
    clear_aperture_mm: Measure | None = measure(
        "Throat or window opening", "length", 200.0, group="Connections"
    )
    width_px: int | None = count("Sensor width", 100_000, help="In pixels.", group="Sensor")
    height_px: int | None = count("Sensor height", 100_000, help="In pixels.", group="Sensor")
    pixel_um: Measure | None = measure("Pixel size", "pixel", 100.0, group="Sensor")
    colour: Literal["mono", "colour"] | None = choice(
        "Mono or colour", (("mono", "mono"), ("colour", "colour")), group="Sensor"
    )
    bits: int | None = count("Bits", 32, group="Sensor")
    quantum_efficiency: Measure | None = measure("Quantum efficiency, peak", "fraction", 1.0, group="Sensor")
    tilt_plate: bool | None = flag("Has a tilt plate", group="Sensor")
    cooling_k: Measure | None = measure(
        "Cooling below ambient", "temperature_difference", 100.0, above=False, group="Power and cooling"
    )
    current_idle_a: Measure | None = measure(
        "Current at idle", "current", 50.0, above=False, group="Power and cooling"
    )
    current_cooling_a: Measure | None = measure(
        "Current at full cooling", "current", 50.0, above=False, group="Power and cooling"
    )
    voltage_v: Measure | None = supply_voltage("Power and cooling")
    voltage_least_v: Measure | None = least_voltage("Power and cooling")
    gains: tuple[GainRow, ...] = table(
        "Gain settings",
        (
            Column("gain", "Gain", "plain", 0.0, 10_000.0),
            Column("read_noise_e", "Read noise", "electrons", 0.0, 1000.0),
            Column("full_well_e", "Full well", "electrons", 0.0, 10_000_000.0),
            Column("conversion_e", "Conversion", "conversion", 0.0, 1000.0),
        ),
        "One line per gain setting that you use.",
    )
    dark_current: tuple[DarkRow, ...] = table(
        "Dark current",
        (
            Column("temperature_c", "Sensor temperature", "temperature", -100.0, 60.0),
            Column("dark_e_s", "Dark current", "dark_current", 0.0, 10_000.0),
        ),
        "One line per temperature.",
    )

    @property
    def sensor_mm(self) -> tuple[float, float] | None:
        """Width and height of the sensor in mm, None while pixels or pixel size are unknown."""
        if self.width_px is None or self.height_px is None or self.pixel_um is None:
            return None
        pixel_mm = self.pixel_um.nominal / 1000.0
        return self.width_px * pixel_mm, self.height_px * pixel_mm

    @property
    def diagonal_mm(self) -> float | None:
        """Diagonal of the sensor in mm, None while unknown."""
        size = self.sensor_mm
        return None if size is None else hypot(*size)

    @property
    def pane(self) -> Pane | None:
        """Its window; None where it has none, and behind an optical flange distance, which allows for it."""
        window = self.window_thickness_mm
        if self.flange_quoted == "optical" or (window is not None and window.nominal == 0):
            return None
        if self.flange_quoted is None:
            return Pane(window, what="window", unsure=True, ask=("flange_quoted", ""))
        ask = ("window_thickness_mm", "") if window is None else None
        return Pane(window, what="window", ask=ask)

    def draw(self, cooling_k: float | None) -> Draw:
        """By the cooling that is asked of it, else at full cooling."""
        idle, full = nominal(self.current_idle_a), nominal(self.current_cooling_a)
        at_idle, at_full = self.basis_of(self.current_idle_a), self.basis_of(self.current_cooling_a)
        most = nominal(self.cooling_k)
        if full is None:
            if idle is None:
                return Draw(asks=(("current_idle_a", "current"),))
            if most:
                # It can be cooled, and what that takes is not known: counted so far as it is.
                ask = ("current_cooling_a", "")
                uncooled = (said("draw.uncooled"),)
                return Draw(idle, idle, uncooled, "current_cooling_a", at_idle, at_idle, (ask,))
            return Draw(idle, idle, (), "", at_idle, at_idle)
        if idle is not None and most and cooling_k is not None:
            between = cooling_current_a(idle, full, cooling_k, most)
            highest = at_full if full >= idle else at_idle
            short_k = cooling_short_k(cooling_k, most)
            short = Quantity(short_k, "K") if short_k else None
            how = said("draw.cooled", asked=Quantity(cooling_k, "K"), most=Quantity(most, "K"), short=short)
            return Draw(between, max(idle, full), (how,), "", "worked out", highest)
        return Draw(full, full, (said("draw.full_cooling"),), "", at_full, at_full)


class Camera(BaseCamera):
    """The imaging camera."""

    kind: Literal["camera"] = "camera"
    kind_words: ClassVar[str] = "camera"
    kind_purpose: ClassVar[str] = "The end of the train: its sensor must sit at the corrector's back focus."

    mass_kg: Measure | None = mass(15.0)


class GuideCamera(BaseCamera):
    """The camera that guides."""

    kind: Literal["guide_camera"] = "guide_camera"
    kind_words: ClassVar[str] = "guide camera"
    kind_purpose: ClassVar[str] = "Watches a star for the mount, behind a guide scope or an off-axis guider."
    on_path: ClassVar[bool] = False

    mass_kg: Measure | None = mass(5.0)
