"""Gear of three invented makers, as a person types it into the forms: the field's label, then the text.

Worked by hand: the corrector asks for 55 mm from its camera side to the sensor; 23.5 + 12.3 + the camera's
19.2 mm make 55.0 mm, and the ring of 5 mm is the one too many.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from server.domain.parts import Part, specs_of
from server.rim.forms import read_part


@dataclass(frozen=True)
class Typed:
    """A part as it is typed. `chosen` are the fields picked from a list, by what the list shows."""

    kind: str
    name: str
    texts: dict[str, str]
    chosen: dict[str, str] = field(default_factory=dict)

    def part(self) -> Part:
        """The same part, for a test that begins with a full shelf."""
        specs = {spec.label: spec for spec in specs_of(self.kind)}
        texts = {specs[label].name: text for label, text in self.texts.items()}
        for label, words in self.chosen.items():
            keys = {shown: key for key, shown in specs[label].choices}
            texts[specs[label].name] = keys[words]
        return read_part(self.kind, texts)


TUBE = Typed(
    "optical_tube",
    "Harrowgate HG 80",
    {
        "Maker": "Harrowgate",
        "Model": "HG 80",
        "Mass": "7.5 lb",
        "Aperture": "80 mm",
        "Focal length": "48 cm",
        "Camera-side connection": "M48x0.75 female",
        "Image circle": "44",
    },
    {"Design": "apochromatic refractor"},
)
CORRECTOR = Typed(
    "corrector",
    "Harrowgate Flat 1",
    {
        "Maker": "Harrowgate",
        "Model": "Flat 1",
        "Mass": "310 g",
        "Sky-side connection": "M48x0.75 male",
        "Camera-side connection": "M48 x 0.75 male",
        "Optical length": "32,5 mm",
        "Smallest clear aperture": "44 mm",
        "Factor": "1",
        "Back focus": "55 ± 0.3 mm",
        "Corrected circle": "44 mm",
    },
    {"What it does": "flattener"},
)
LONG_RING = Typed(
    "spacer_ring",
    "Pellow & Dray R23",
    {
        "Maker": "Pellow & Dray",
        "Model": "R23",
        "Mass": "38 g",
        "Sky-side connection": "M48x0.75 female",
        "Camera-side connection": "M48x0.75 male",
        "Optical length": "23.5 mm",
        "Smallest clear aperture": "46 mm",
    },
)
SHORT_RING = Typed(
    "spacer_ring",
    "Pellow & Dray R5",
    {
        "Maker": "Pellow & Dray",
        "Model": "R5",
        "Mass": "0.4 oz",
        "Sky-side connection": "M48x0.75 female",
        "Camera-side connection": "M48x0.75 male",
        "Optical length": "5.0 +- 0.05 mm",
        "Smallest clear aperture": "46",
    },
)
ADAPTER = Typed(
    "adapter",
    "Pellow & Dray A48-42",
    {
        "Maker": "Pellow & Dray",
        "Model": "A48-42",
        "Mass": "45 g",
        "Sky-side connection": "M48x0.75 female",
        "Camera-side connection": "M42x0.75 male",
        "Optical length": "12.3 mm",
        "Smallest clear aperture": "40 mm",
    },
)
CAMERA = Typed(
    "camera",
    "Vantry V23",
    {
        "Maker": "Vantry",
        "Model": "V23",
        "Mass": "0.55 kg",
        "Front connection": "M42x0.75 female",
        "Flange distance": "19.2 mm",
        "Sensor width": "5890",
        "Sensor height": "3930",
        "Pixel size": "4.0 um",
    },
    {"The flange distance is": "optical (the window is allowed for)", "Mono or colour": "mono"},
)
MOUNT = Typed(
    "mount",
    "Vantry Mule 12",
    {"Maker": "Vantry", "Model": "Mule 12", "Mass": "9 kg", "Rated capacity": "12 kg"},
    {"Type": "equatorial", "Rated": "with a counterweight"},
)

ALL = (TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA, MOUNT)
