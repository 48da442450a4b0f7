"""Whatever stands in a train, the drawing comes out whole; and the pieces it is made of keep their word."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.domain.connections import read_connection
from server.domain.measure import Measure
from server.domain.parts import KINDS, PART, CataloguedPart
from server.domain.rig import Rig
from server.domain.train import TRAIN_KINDS, Place, Train
from server.web.drawing import DRAWING_CSS_FILE, SectionOptions, SpacingMark, section_svg
from server.web.drawing.labels import spread
from server.web.drawing.svg import Svg

STATIC = Path(__file__).resolve().parents[3] / "static"

LENGTHS = st.one_of(
    st.none(), st.just(0.0), st.floats(0.0, 600.0), st.floats(allow_nan=False, allow_infinity=False)
).map(lambda v: None if v is None else Measure(nominal=v))
CONNECTIONS = st.sampled_from(
    [None]
    + [
        read_connection(text)
        for text in (
            "M48x0.75 male",
            "M48x0.75 female",
            "M42x1 female",
            "M117x1 male",
            "2 in barrel male",
            '2"-24 male',
        )
    ]
)


@st.composite
def parts(draw):
    kind = draw(st.sampled_from(TRAIN_KINDS))
    values: dict = {"kind": kind, "model": draw(st.text(max_size=12))}
    for name, info in KINDS[kind].model_fields.items():
        if name in ("sky_side", "camera_side", "side_port"):
            values[name] = draw(CONNECTIONS)
        elif "Measure" in str(info.annotation) and name.endswith("_mm"):
            values[name] = draw(LENGTHS)
    if kind == "filter_wheel":
        values["positions"] = draw(st.sampled_from([None, 1, 5, 40]))
    if kind == "optical_tube":
        values["obstruction_mm"] = None
        values["design"] = draw(st.sampled_from([None, "newtonian", "maksutov", "apochromat"]))
    if kind == "camera":
        values |= {"width_px": draw(st.sampled_from([None, 1, 9576])), "height_px": 6388}
        values["pixel_um"] = draw(LENGTHS)
    return PART.validate_python(values)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(parts(), st.booleans()), max_size=16),
    st.booleans(),
    st.one_of(
        st.none(), st.builds(SpacingMark, st.floats(-1.0, 900.0), st.one_of(st.none(), st.floats(0.0, 900.0)))
    ),
)
def test_any_train_is_drawn_as_well_formed_svg_of_finite_size(chosen, narrow, spacing) -> None:
    train = Train(
        tuple(Place(i, CataloguedPart(i, 1, "Ada", 1, part), flip) for i, (part, flip) in enumerate(chosen))
    )
    rig = Rig("any", train)
    svg = section_svg(rig, options=SectionOptions(narrow=narrow, spacing=spacing))
    root = ET.fromstring(svg)
    for name in ("x", "y", "width", "height", "r", "points"):
        for value in re.findall(rf' {name}="([^"]*)"', svg):
            assert "inf" not in value
            assert "nan" not in value
    for element in root.iter():
        for name in ("width", "height", "r"):
            assert float(element.get(name) or 0.0) >= 0.0


@given(
    st.lists(st.tuples(st.floats(0.0, 300.0), st.floats(1.0, 60.0)), min_size=1, max_size=30),
    st.floats(0.0, 50.0),
)
def test_spread_labels_keep_their_order_and_never_overlap(wanted, low) -> None:
    wanted.sort()
    targets, widths = [t for t, _ in wanted], [w for _, w in wanted]
    high = low + sum(widths) + 10.0
    placed = spread(targets, widths, low, high)
    edges = [(x - w / 2, x + w / 2) for x, w in zip(placed, widths, strict=True)]
    for (_, right), (left, _) in pairwise(edges):
        assert left - right >= -1e-6
    assert edges[0][0] >= low - 1e-6
    assert edges[-1][1] <= high + 1e-6


def test_labels_with_room_stand_where_they_want_to() -> None:
    assert spread([10.0, 50.0, 90.0], [20.0, 20.0, 20.0], 0.0, 100.0) == pytest.approx([10.0, 50.0, 90.0])


def test_two_labels_that_want_one_spot_share_the_shift() -> None:
    assert spread([50.0, 50.0], [20.0, 20.0], 0.0, 100.0) == pytest.approx([40.0, 60.0])


@pytest.mark.parametrize("name", ["style", "onclick", "onload"])
def test_the_writer_refuses_what_the_content_policy_refuses(name: str) -> None:
    with pytest.raises(ValueError, match="content policy"):
        Svg().open("rect", **{name: "x"})


def test_every_class_that_is_drawn_with_is_painted_by_the_stylesheet() -> None:
    """A shape without a rule would be black, in the red theme as well."""
    # The Bridge's page alone shows stacks and fronts, and brings what they need beyond a train.
    sheets = (DRAWING_CSS_FILE, "css/bridge/bridge.css", "css/drawing/light.css")
    css = "".join((STATIC / name).read_text("utf-8") for name in sheets)
    folder = Path(__file__).resolve().parents[3] / "server" / "web"
    source = "".join(p.read_text("utf-8") for p in folder.rglob("*.py"))
    used = set(re.findall(r"\bdw-[a-z0-9-]*[a-z0-9]\b", source))
    grouping = {
        "dw-part",
        "dw-kind",
        "dw-strip",
        "dw-scale",
        "dw-spacing",
        "dw-inset",
        "dw-empty",
        "dw-pattern",
        "dw-sign",
        "dw-joint",
    }
    # A band of the light map has its number behind the word.
    grouping |= {"dw-band"}
    # The legend's swatches are of the same classes as what they explain.
    grouping |= {"dw-light", "dw-edge"}
    grouping |= {"dw-word", "dw-kind-optical-tube", "dw-stack", "dw-front"}
    painted = set(re.findall(r"\.(dw-[a-z0-9-]*[a-z0-9])\b", css))
    assert used - painted - grouping == set()


def test_the_stylesheet_takes_every_colour_from_the_theme() -> None:
    css = (STATIC / DRAWING_CSS_FILE).read_text("utf-8").split("@media print")[0]
    for fill in re.findall(r"(?:fill|stroke|color): ([^;]+);", css):
        assert fill.startswith("var(--") or fill in ("none", "transparent", "stroke"), fill
