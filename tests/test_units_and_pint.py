"""The tables of units held against pint, an independent program; what goes to pint, and what does not.

Sources of the expected values: NIST SP 811 (2008), appendix B.8: 1 lb = 0.45359237 kg.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.units import read_quantity, registry
from server.units.dimensions import SPECS
from server.units.registry import _make as make_registry
from tests.running import ROOT

PINT_AGREES_TO = 1e-12
"""Relative; pint multiplies floats step by step, the tables here are exact."""

UNITS = [
    (name, spelling)
    for name, spec in SPECS.items()
    if spec.pint_unit is not None
    for spelling in {unit.label for unit in spec.units.values()}
]


@given(st.sampled_from(UNITS), st.floats(0.001, 1e6))
def test_the_tables_agree_with_pint(unit: tuple[str, str], value: float) -> None:
    name, spelling = unit
    ureg = registry()
    difference = name == "temperature_difference"
    pint_name = {"°C": "delta_degC", "°F": "delta_degF"}.get(spelling, spelling) if difference else spelling
    pint_value = ureg.Quantity(value, pint_name).to(SPECS[name].pint_unit).magnitude
    read = read_quantity(f"{value!r} {spelling}", name)  # type: ignore[arg-type]
    assert read.nominal == pytest.approx(pint_value, rel=PINT_AGREES_TO, abs=1e-10)


def test_units_beyond_the_tables_are_read_by_pint() -> None:
    # One furlong is an eighth of a mile; NIST SP 811 gives 201.168 m, within the two parts in a million by
    # which the survey foot differs.
    assert read_quantity("1 furlong", "length").nominal == pytest.approx(201168, rel=3e-6)
    # A stone is 14 lb (common knowledge): 14 * 0.45359237 kg.
    assert read_quantity("1 stone", "mass").nominal == pytest.approx(6.35029318, rel=PINT_AGREES_TO)
    # 1 mrad = 206.264806 arcsec (IAU: 206264.806 arcsec in a radian).
    assert read_quantity("1 mrad", "arcsec").nominal == pytest.approx(206.264806, rel=1e-8)


USUAL = """
import sys
from server.units import QuantityError, read_quantity
for text, dimension in [
    ("54.8 +- 0.2 mm", "length"), ('1 1/4"', "length"), ("7 lb 11 oz", "mass"), ("14 °F", "temperature"),
    ("f/5", "ratio"), ("5 kg", "length"), ("5 mm", "mass"), ("3.76 um", "length"), ("12 V", "current"),
    ("5 px", "length"), ("30 %", "mass"), ("5 cm", "ratio"),
]:
    try:
        print(read_quantity(text, dimension).understood)
    except QuantityError as error:
        print(error)
print("pint" in sys.modules)
"""


def test_the_usual_units_and_the_usual_mistakes_do_not_wait_for_pint_to_load() -> None:
    run = subprocess.run([sys.executable, "-c", USUAL], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "5 kg is a mass; this field is a length." in run.stdout
    assert "5 cm is a length; this field is a ratio." in run.stdout
    assert run.stdout.splitlines()[-1] == "False"


def test_a_pixel_is_not_a_length_in_the_registry() -> None:
    ureg = registry()
    assert not ureg.Quantity(1, "px").is_compatible_with("mm")
    assert registry() is ureg


def test_the_registry_keeps_its_definitions_in_the_folder_it_is_given(tmp_path: Path) -> None:
    folder = tmp_path / "units"
    made = make_registry(folder)
    assert any(folder.iterdir())
    assert made.Quantity(1, "in").to("mm").magnitude == pytest.approx(25.4, rel=PINT_AGREES_TO)


def test_a_folder_that_cannot_be_made_only_costs_time(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    made = make_registry(tmp_path / "file" / "units")
    assert made.Quantity(1, "in").to("mm").magnitude == pytest.approx(25.4, rel=PINT_AGREES_TO)
