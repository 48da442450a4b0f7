"""Words of what each kind of tube asks of its owner. Common practice, no source."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "upkeep.cap": "By day cap the tube.",
    "upkeep.open_up": "Taking a tube apart beyond its own screws ends warranties, and may end its alignment.",
    "upkeep.screws": "Never loosen all three screws at once: the secondary may fall.",
    "upkeep.level": "Work at the secondary with the tube level: a dropped tool then misses the mirror.",
    "upkeep.mark": "The mirrors' distance sets the spherical aberration: mark it before you turn anything.",
    "upkeep.refractor.what": "The maker squares and centres the lenses; there is nothing for the owner to set.",
    "upkeep.refractor.delicate": "It holds for years. A knock or a fall can end that, and is seen as coma in the middle of the field.",
    "upkeep.refractor.field": "No. A tube that was knocked out goes back to its maker.",
    "upkeep.newtonian.what": "The secondary is turned and tilted under the focuser, then the primary tilted until its axis meets it.",
    "upkeep.newtonian.delicate": "The faster, the more delicate. It is looked at before every night.",
    "upkeep.newtonian.field": "The primary yes, in minutes. The secondary is better begun at home by day.",
    "upkeep.schmidt_cassegrain.what": "Three screws tilt the secondary; the primary and the plate are the maker's.",
    "upkeep.schmidt_cassegrain.delicate": "It drifts a little with each journey. A star out of focus shows rings that must lie in the middle.",
    "upkeep.schmidt_cassegrain.field": "Yes, under the stars: on a star near the zenith, a small turn at a time, the star brought back to the middle after each.",
    "upkeep.maksutov.what": "Mostly nothing: many have a fixed secondary, and screws behind the primary for the maker.",
    "upkeep.maksutov.delicate": "It holds well.",
    "upkeep.maksutov.field": "Only where its maker says so.",
    "upkeep.ritchey_chretien.what": "Both mirrors: the secondary tilted and set at its distance, the primary tilted.",
    "upkeep.ritchey_chretien.delicate": "The most delicate of these tubes: a tilt of the primary and one of the secondary hide each other, and the corners show it.",
    "upkeep.ritchey_chretien.field": "Begun at home by day, ended on stars over the whole sensor. Not in the cold of the first night.",
    "upkeep.classical_cassegrain.what": "Both mirrors: the secondary tilted until a star in the middle is round, the primary rarely.",
    "upkeep.classical_cassegrain.delicate": "Delicate: the secondary magnifies every error, and coma grows towards the edge in any case.",
    "upkeep.classical_cassegrain.field": "The secondary yes, on a star near the zenith, a small turn at a time. The primary at home by day.",
    "upkeep.dall_kirkham.what": "The secondary is tilted; the primary and the corrector are mostly the maker's.",
    "upkeep.dall_kirkham.delicate": "Delicate, with a corrector that wants its own distance.",
    "upkeep.dall_kirkham.field": "Begun at home by day, ended on stars.",
    "upkeep.astrograph.what": "By its own design: see its maker's papers.",
    "upkeep.astrograph.delicate": "Fast ones show a hundredth of a millimetre in the corners.",
    "upkeep.astrograph.field": "As its maker says.",
    "upkeep.camera_lens.what": "Nothing by the owner.",
    "upkeep.camera_lens.delicate": "A knocked lens shows one soft side.",
    "upkeep.camera_lens.field": "No: a workshop does it.",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
