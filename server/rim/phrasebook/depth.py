"""Words of how deep a rig goes: what is taken for granted."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "depth.optics": "Mirrors and lenses pass {share}, usual for the tube's kind (common practice, no source).",
    "depth.of_peak": "Over its band the sensor has {share} of its peak efficiency (common practice, no source).",
    "depth.mosaic": "The colour mosaic leaves {share} of the light (common practice, no source).",
    "depth.no_filter": "No filter is counted: light from 400 to 700 nm.",
    "depth.colour": "The catalogue has blue magnitudes of the target; B-V is taken as {colour} (common practice, no source).",
    "depth.too_low": "The target never stands {least} high there: no exposure is reckoned.",
    "depth.no_altitude": "How deep is not known yet: the target's year could not be worked out, and with it how high it stands. Say an altitude.",
    "depth.usual_nebula": "How bright the nebula is nobody has listed: {magnitude} V magnitudes per square arcsecond are usual (common practice, no source).",
    "depth.usual_line": "How bright the nebula's line is nobody has listed: {rayleigh} rayleighs are usual (common practice, no source).",
    "wants.sky_brightness": "how dark the sky of the site is",
    "wants.target_brightness": "how bright the target is, under “Brightness to reach”",
    "wants.line_brightness": "how bright its line is, under “Brightness of the line”",
    "lacks.quantum_efficiency": "the quantum efficiency of {part}",
    "lacks.gains": "the gain settings of {part}",
    "lacks.dark_current": "the dark current of {part}",
    "lacks.peak_transmission": "the peak transmission of {part}",
    "lacks.colour": "whether {part} is mono or colour",
    "work.year": "the target's year",
    "work.night": "the night",
    "work.depth": "how deep the rig goes",
    "work.panels": "the panels",
    "work.targets": "the list of targets",
    "work.scout": "a candidate of the Scout",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
