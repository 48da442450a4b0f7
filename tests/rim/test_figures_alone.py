"""Forms that keep a figure alone refuse its tolerance and its basis, rather than lose them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.load_plan import LoadPlan
from server.rim.load_form import lead_specs, lift_specs, read_plan, understood
from server.rim.load_specs import LOAD_SPECS
from server.rim.rules import RULE_SPECS, read_rules
from server.rim.scout_needs import NEED_SPECS, read_needs
from server.rim.sensor_size import count_offered, size_instead
from server.rim.star_wishes import WISH_SPECS, read_wishes
from server.units import edit_text

SAID = "Only the figure is kept here: leave out its ± and where it comes from."
Refused = Callable[[Mapping[str, str]], Mapping[str, str]]


def refused_by(read: Callable[[Mapping[str, str]], object]) -> Refused:
    def refused(texts: Mapping[str, str]) -> Mapping[str, str]:
        try:
            read(texts)
        except FieldErrors as error:
            return error.errors
        return {}

    return refused


FORMS: tuple[tuple[tuple[FieldSpec, ...], Refused], ...] = (
    (WISH_SPECS, lambda texts: read_wishes(texts)[1]),
    (NEED_SPECS, lambda texts: read_needs(texts, (), (), {})[1]),
    (RULE_SPECS, refused_by(read_rules)),
    (LOAD_SPECS, refused_by(lambda texts: read_plan(LoadPlan(), texts, {}, ()))),
    (lift_specs("new"), refused_by(lambda texts: read_plan(LoadPlan(), texts, {}, ()))),
    (lead_specs(), refused_by(lambda texts: read_plan(LoadPlan(), texts, {}, (1,)))),
)
FIELDS = [(spec, refused) for specs, refused in FORMS for spec in specs if spec.shape == "measure"]


@pytest.mark.parametrize(("spec", "refused"), FIELDS, ids=lambda one: getattr(one, "name", ""))
def test_a_tolerance_or_a_basis_is_refused_at_its_field_and_the_figure_alone_taken(
    spec: FieldSpec, refused: Refused
):
    low = spec.minimum or 0.0
    figure = low + ((spec.maximum or 1.0) - low) / 4.0
    for more in ({"plus": 0.001, "minus": 0.001}, {"basis": "measured"}):
        text = edit_text(figure, dimension=spec.dimension, **more)
        assert refused({spec.name: text}).get(spec.name) == SAID, text
    alone = edit_text(figure, dimension=spec.dimension)
    assert SAID not in refused({spec.name: alone}).values(), alone


def test_what_a_field_of_the_load_understands_is_refused_alike():
    with pytest.raises(FieldErrors) as error:
        understood("lift-new-reach_mm", "40 cm ± 1 cm")
    assert error.value.errors == {"lift-new-reach_mm": SAID}


def test_a_sensors_size_with_a_tolerance_is_no_count_of_pixels():
    assert size_instead("width_px", "23.5 ± 0.1 mm", "3.76 um") == SAID
    assert count_offered("width_px", "23.5 ± 0.1 mm", "3.76 um") == ("", "")
    # The pixel's own field keeps its tolerance: nothing is lost of it.
    assert count_offered("width_px", "23.5 mm", "3.76 ± 0.01 um")[0] == "6250"
