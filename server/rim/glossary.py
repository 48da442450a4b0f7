"""The one list of words that pages explain: ours, and those of the trade.

A page sets a word with its note by the macros of `templates/parts/words.html`; /words shows them all.
"""

from __future__ import annotations

from dataclasses import dataclass

PRACTICE = "Common practice, no source."
BORN_WOLF = "Born and Wolf, Principles of Optics, chapter {}."


@dataclass(frozen=True)
class Word:
    """A word and what it means.

    Attributes:
        key: its name in an address; letters and hyphens.
        word: as it is written.
        says: a sentence or two, 40 words at most.
        source: where it stands, of a word of the trade; "" of a word of ours.
        names: what else it is called.
        labels: the fields' labels and columns' heads at which its note stands.
    """

    key: str
    word: str
    says: str
    source: str = ""
    names: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()


OURS = (
    Word("rig", "Rig", "A train with what goes beside it, and the rules that it is judged by."),
    Word("train", "Train", "The parts that the light passes, in order, from the tube to the camera."),
    Word("run", "Run", "The train as a list: its parts in order, sky first, with the joint between any two."),
    Word("joint", "Joint", "Where two parts of the train meet, each with its connection."),
    Word(
        "site",
        "Site",
        "Where you stand under the sky: its place, its darkness, its air, and what is in the way.",
    ),
    Word(
        "horizon-line",
        "Horizon line",
        "The lowest altitude that a site's trees and houses leave, by direction.",
        labels=("Lowest usable altitude",),
    ),
    Word("panel", "Panel", "One frame of a mosaic.", labels=("Panels across",)),
    Word(
        "section",
        "Section",
        "The rig cut along the axis of its light and drawn to scale: sky on the left, sensor on the right.",
    ),
    Word(
        "beside",
        "Beside the train",
        "What carries, guides or feeds the train and stands in no light of it: mount, rings, weights, "
        "guide scope, power.",
    ),
    Word(
        "tray",
        "Tray",
        "The parts of your shelf, opened beside the run to be put in. What fits the joint that you chose "
        "comes first.",
    ),
    Word("shelf", "Shelf", "Your gear: what you own, what you wish for, what you consider."),
    Word(
        "consider",
        "Consider",
        "A part that you consider stands on your shelf as neither owned nor wished for yet.",
        names=("considered",),
    ),
    Word(
        "catalogue",
        "Catalogue",
        "All parts of this install, whoever entered them. Only who entered a part changes it.",
    ),
    Word("bench", "Bench", "Where one rig is put together, and judged anew after every change."),
    Word(
        "bridge",
        "Bridge",
        "Looks for the rings and adapters that close a gap, among what you own and what could be bought, and "
        "says which are best and whether that is proven.",
    ),
    Word(
        "gap",
        "Gap",
        "What lies between two parts of a train that stay: a length, and the way from one connection to the "
        "other.",
    ),
    Word("stack", "Stack", "Rings, adapters and shims in the order in which they close a gap."),
    Word(
        "front",
        "Front",
        "What no other beats in all that is compared at once: a stack by price, joints, error and mass, a "
        "combination by what you ticked, in steps in which a person counts.",
        names=("Pareto front",),
    ),
    Word("kit", "Kit", "What to buy once so that each of several rigs can be built, one at a time."),
    Word(
        "guide-chain",
        "Guide chain",
        "What stands between an off-axis guider's side port and the guide camera.",
    ),
    Word(
        "finding",
        "Finding",
        "What a check says of a rig: how grave it is, by how much it is off, what to do, and how that was "
        "worked out.",
    ),
    Word(
        "weights",
        "Stop, watch, sound, not known yet",
        "How grave a finding is: it will not work; it works at a cost; it is right; figures are missing, and "
        "none was guessed.",
    ),
    Word("basis", "Basis", "Where a figure comes from: typed, measured, the maker's, or assumed."),
    Word(
        "entry",
        "Entry",
        "A rig as it was saved in the Logbook, with its parts and findings. It never changes.",
    ),
)
"""Words of ours, in the order in which one meets them."""

TRADE = (
    Word(
        "adapter",
        "Adapter",
        "A ring that joins two connections which do not fit each other.",
        PRACTICE,
    ),
    Word(
        "asinh",
        "Asinh",
        "A stretch for pictures by the inverse hyperbolic sine: faint light is drawn up in proportion, "
        "bright light by its logarithm, so that both are seen at once.",
        "Lupton, Gunn and Szalay, Astronomical Journal 118, 1406 (1999).",
        names=("inverse hyperbolic sine",),
    ),
    Word(
        "back-focus",
        "Back focus",
        "The distance in air that a corrector asks for from its reference shoulder to the sensor. Glass on "
        "the way lengthens it by about a third of the glass.",
        PRACTICE,
        names=("working distance", "spacing"),
        labels=("Back focus",),
    ),
    Word(
        "clear-aperture",
        "Clear aperture",
        "The smallest opening of a part, as a diameter.",
        PRACTICE,
        labels=("Smallest clear aperture",),
    ),
    Word(
        "collimation",
        "Collimation",
        "Setting a telescope's mirrors or lenses onto one axis.",
        PRACTICE,
        labels=("Out of collimation by",),
    ),
    Word(
        "corrector",
        "Corrector",
        "Lenses before the camera that sharpen a tube's field or change its focal length: flattener, "
        "reducer, coma corrector, extender.",
        PRACTICE,
    ),
    Word(
        "culmination",
        "Culmination",
        "When a target stands highest, due south or north, and how high.",
        "Any text on spherical astronomy.",
    ),
    Word(
        "depth-of-focus",
        "Depth of focus",
        "How far, to one side, the sensor may stand from the focus before the stars suffer.",
        BORN_WOLF.format(8),
    ),
    Word(
        "eccentricity",
        "Eccentricity",
        "How far from round a star is: 0 for a circle, nearly 1 for a line.",
        PRACTICE,
        labels=("eccentricity",),
    ),
    Word(
        "exit-pupil",
        "Exit pupil",
        "The image of a telescope's opening as the sensor sees it: all light of a star seems to come through "
        "it.",
        BORN_WOLF.format(4),
        labels=("Exit pupil before the focal plane",),
    ),
    Word(
        "flange-distance",
        "Flange distance",
        "From a camera's front shoulder to its sensor. It is optical where the maker has allowed for the "
        "window's glass, and mechanical where not.",
        PRACTICE,
        names=("flange focal distance",),
        labels=("Flange distance",),
    ),
    Word(
        "focal-ratio",
        "Focal ratio",
        "Focal length over aperture, such as f/6. The smaller it is, the wider the light cone opens.",
        PRACTICE,
        names=("f-number", "f/"),
    ),
    Word(
        "full-width",
        "Full width",
        "How wide a star is at half of its peak.",
        PRACTICE,
        names=("full width at half maximum", "FWHM"),
        labels=("Seeing, full width",),
    ),
    Word(
        "image-circle",
        "Image circle",
        "The circle at the sensor within which a tube or corrector gives light and stars as its maker "
        "promises.",
        PRACTICE,
        labels=("Image circle", "Corrected circle"),
    ),
    Word(
        "light-cone",
        "Light cone",
        "The light of one star between a telescope's opening and the sensor, where it comes to a point.",
        PRACTICE,
    ),
    Word(
        "off-axis-guider",
        "Off-axis guider",
        "A ring with a small prism at the edge of the light, which sends a star sideways to a guide camera.",
        PRACTICE,
    ),
    Word(
        "optical-length",
        "Optical length",
        "What a part adds to the train: shoulder to shoulder when it is screwed home, threads not counted.",
        PRACTICE,
        labels=("Optical length",),
    ),
    Word(
        "parfocal",
        "Parfocal",
        "Of filters: the focus stays where it is when one takes another's place.",
        PRACTICE,
    ),
    Word(
        "principal-plane",
        "Principal plane",
        "Where a thin lens would stand that bends the light as all glasses of a corrector do together; one "
        "counts for light coming in, one for light going out.",
        BORN_WOLF.format(4),
        labels=("Rear principal plane before the reference shoulder",),
    ),
    Word(
        "rayleigh",
        "Rayleigh",
        "How bright a glow in one line is: ten thousand million photons a second from a column of a square "
        "metre, in all directions.",
        "Baker and Romick, Applied Optics 15, 1966 (1976), from memory.",
        labels=("Brightness of the line",),
    ),
    Word(
        "reference-shoulder",
        "Reference shoulder",
        "The face of a corrector from which its back focus is counted; mostly the one that the next ring is "
        "screwed against.",
        PRACTICE,
        labels=("Reference shoulder before the camera-side face",),
    ),
    Word(
        "rms",
        "RMS",
        "The root of the mean square: an error's usual size, whichever way it goes, with large ones counted "
        "more.",
        PRACTICE,
        names=("root mean square",),
        labels=("Guiding error, total RMS",),
    ),
    Word(
        "sampling",
        "Sampling",
        "How many pixels a star is spread over. Too few lose detail, too many thin out the light.",
        PRACTICE,
    ),
    Word(
        "seeing",
        "Seeing",
        "How wide the air alone draws a star over a long exposure, in arcseconds.",
        PRACTICE,
    ),
    Word(
        "shim", "Shim", "A thin ring that is laid into a joint to make the train a little longer.", PRACTICE
    ),
    Word(
        "signal-to-noise",
        "Signal to noise",
        "How far the target's light stands above its own flicker, the sky's and the camera's. Twice as much "
        "takes four times the hours.",
        "Howell, Handbook of CCD Astronomy, chapter 4 (from memory).",
        labels=("Signal to noise wanted",),
    ),
    Word(
        "sky-class",
        "Sky class",
        "How dark a sky is, from 1, where the Milky Way throws shadows, to 9, a city's middle.",
        "Bortle, Sky and Telescope, February 2001 (from memory).",
        labels=("How dark the sky is, said by",),
    ),
    Word(
        "spacer-ring",
        "Spacer ring",
        "A ring with the same thread on both ends that keeps a distance.",
        PRACTICE,
        names=("extension ring",),
    ),
    Word(
        "strehl-ratio",
        "Strehl ratio",
        "A star's peak against that of faultless optics of the same opening: 1 is perfect, and from 0.8 on "
        "optics count as limited by diffraction.",
        BORN_WOLF.format(9),
        labels=("Strehl ratio", "Strehl ratio on the axis"),
    ),
    Word(
        "sub-exposure",
        "Sub-exposure",
        "One of the many exposures that are added up. It should be so long that read noise hardly counts "
        "beside the sky's.",
        PRACTICE,
        labels=("One exposure",),
    ),
    Word(
        "surface-brightness",
        "Surface brightness",
        "How bright a square arcsecond of something wide is, in magnitudes: the larger, the fainter.",
        "Any text on photometry.",
        labels=("Mean surface brightness, V", "Brightness to reach", "Surface not fainter than"),
    ),
)
"""Words of the trade, by the alphabet."""

WORDS = {one.key: one for one in (*OURS, *TRADE)}
_AT = {label: one for one in WORDS.values() for label in one.labels}


def word_at(label: str) -> Word | None:
    """The word whose note stands at a field's label or a column's head, None where there is none."""
    return _AT.get(label)
