"""The drawing in sentences, for those who do not see it."""

from __future__ import annotations

from collections.abc import Sequence

from server.domain.measure import percent
from server.domain.parts import BaseCamera, OpticalTube
from server.domain.rig import Rig
from server.domain.train import Place, Shoulders
from server.rim.phrasebook.tell import sentence_of
from server.web.drawing.legend import losses, sides_words
from server.web.drawing.light import Cone
from server.web.drawing.options import SectionOptions
from server.web.drawing.tolerance_bar import sentences as tolerance_words

JOINT_WORDS = {
    "wrong_gender": "wrong gender",
    "wrong_size": "wrong size",
    "wrong_pitch": "wrong pitch",
    "wrong_kind": "wrong kind",
    "unknown": "not known",
    "watch": "watch",
}
"""What stands at a joint that does not simply mate."""


def title_of(rig: Rig) -> str:
    """Return the drawing's name."""
    return f"Section of the train of {rig.name}" if rig.name else "Section of the train"


def part_sentence(place: Place, number: int, shoulders: Shoulders, options: SectionOptions) -> str:
    """Return one part's number, name, length and place."""
    write = options.write_length
    words = place.part.kind_words
    head = f"{number}. {place.name or 'no name'}, {words}"
    if place.flipped:
        head += ", turned round"
    tail = "." + _taken(place.key, options)
    if isinstance(place.part, OpticalTube):
        return head + tail
    if place.length is None:
        return f"{head}: length not known yet{tail}"
    if isinstance(place.part, BaseCamera):
        return f"{head}: sensor {write(place.length.nominal)} behind its front shoulder{tail}"
    head += f": {write(place.length.nominal)} long"
    if shoulders.camera_mm is not None:
        head += f", camera-side shoulder {write(shoulders.camera_mm)} from the sensor"
    return head + tail


def _taken(key: int, options: SectionOptions) -> str:
    """Return what a part takes of the light, as sentences that begin with a space; "" for nothing."""
    said, limit, prism = "", options.limit, options.prism
    if limit is not None and limit.key == key:
        said = f" It limits the light: the corners lose {percent(limit.lost)}, most of it here."
    if prism is not None and prism.key == key and prism.shades and prism.limits:
        said += f" Its prism shades the sensor: the middle of that side loses {percent(prism.lost)}."
    return said


def spacing_words(options: SectionOptions) -> list[str]:
    """Return asked and actual back focus in one or two short phrases."""
    mark = options.spacing
    if mark is None:
        return []
    write = options.write_length
    asked = f"asked back focus {write(mark.asked_mm)}"
    if mark.actual_mm is None:
        return [asked, "now: not known yet"]
    off = mark.actual_mm - mark.asked_mm
    # What the reader's own digits do not tell apart is not called an error.
    if write(abs(off)) == write(0.0):
        return [asked, "the sensor sits there"]
    return [
        asked,
        f"now {write(mark.actual_mm)}: {write(abs(off))} too {'far behind' if off > 0 else 'close'}",
    ]


def describe(
    rig: Rig,
    options: SectionOptions,
    cone: Cone | None,
    bore_unknown: list[int],
    sentences: Sequence[str],
    *,
    bar: bool = False,
) -> str:
    """Return the whole drawing in sentences; `sentences` are those of the parts, in order from the sky;
    `bar` tells whether the finished trains are drawn at the sensor.
    """
    train = rig.train
    said = [
        "Sky on the left, sensor on the right; lengths and diameters of the train are drawn to one scale."
    ]
    for place, sentence in zip(train.places, sentences, strict=True):
        said.append(sentence)
        said += [f"It holds {inside.name}." for inside in place.inside]
    if train.camera is None:
        said.append("There is no camera yet, so distances from the sensor are not known.")
    for joint in train.joints:
        words = JOINT_WORDS.get(joint.mating.in_a_word)
        if words:
            said.append(
                f"Joint of {joint.upper.name} and {joint.lower.name}, {words}: "
                f"{sentence_of(joint.mating.says, options.units)}"
            )
    said += [f"{phrase[0].upper()}{phrase[1:]}." for phrase in spacing_words(options)]
    if cone is None:
        said.append("No light is drawn: the focal ratio or the distance to the sensor is not known.")
    else:
        said.append(
            f"The light is drawn at f/{cone.traced.beam.focal_ratio:.3g} from {cone.begins} to the sensor."
        )
        if cone.corner_mm is None:
            said.append("The light to the corner is not drawn: the sensor's size is not known.")
        else:
            if not cone.traced.known:
                said.append("The light to the corner is drawn in the middle of what is possible.")
            if cone.prism is not None:
                words = sides_words(cone)
                said.append(f"{words[0].upper()}{words[1:]}.")
            said += [f"Hatched, as it does not arrive: {words}." for words in losses(cone)]
    if bar:
        said.append("At the sensor, enlarged:")
        said += tolerance_words(options.band, options.write_fine)
    said.append(
        "Outer diameters are indicative: they are taken from connections and clear apertures. "
        "Where a corrector's glass sits in its body is indicative."
    )
    if bore_unknown:
        numbers = ", ".join(str(n) for n in bore_unknown)
        said.append(f"Clear aperture not known, drawn dashed: {numbers}.")
    return " ".join(said)
