"""A counterweight of one's own shelf that balances the rig is named before any to buy.

Source: sums worked by hand: 5 kg at 150 + 50 mm ask for 1000 kg mm, the bar of 1 kg gives 250.
"""

from __future__ import annotations

from typing import Any

import pytest

from server.domain.load_plan import LoadPlan
from server.domain.observer import Holding
from server.domain.parts import Counterweight
from server.flow.assemble_train import SetGear, SetLoad
from server.flow.run_checks import find_weights
from server.flow.workbench import Workbench
from tests.domain.rigs import mm, mount, tube
from tests.flow.test_workbench import Install, install, made, train

__all__ = ["install"]

BAR: dict[str, Any] = {
    "mount_type": "equatorial",
    "saddle_height_mm": 150.0,
    "bar_start_mm": 100.0,
    "bar_length_mm": 300.0,
}


def weighed(bench: Workbench, beside: int, holding: Holding) -> str:
    tube_id = bench.add_part(tube(balance_point_mm=200.0), Holding(owned=1)).id
    carrier = bench.add_part(mount(**BAR, bar_mass_kg=1.0, bar_diameter_mm=20.0), Holding(owned=1)).id
    disc = Counterweight(model="Disc", mass_kg=mm(3.0), thickness_mm=mm(40.0), bore_mm=mm(20.0))
    disc_id = bench.add_part(disc, holding).id
    plan = LoadPlan(tube_above_saddle_mm=50.0, clamp_mm=200.0)
    changes = [*train({"tube": tube_id}, "tube"), SetGear(part_id=carrier, quantity=1), SetLoad(load=plan)]
    if beside:
        changes.append(SetGear(part_id=disc_id, quantity=beside))
    view = made(bench, *changes)
    free = find_weights(bench.store, view.rig, bench.observer.id)
    assert [count for _, count in free] == ([holding.owned - beside] if holding.owned > beside else [])
    found = next(f for f in view.findings if f.title == "Counterweights")
    # 750 / 3 = 250 mm from the axis.
    return found.remedies[0].phrase.template if found.remedies else found.code


def test_an_owned_weight_is_named_until_it_stands_beside_the_rig(install: Install) -> None:
    with install.bench() as bench:
        assert weighed(bench, 0, Holding(owned=1)) == "You own Disc: put it beside the rig."
    with install.bench("Bo") as bench:
        assert weighed(bench, 1, Holding(owned=1)) == "balance.bar"


@pytest.mark.parametrize("holding", [Holding(wished=1), Holding(considered=2)])
def test_a_weight_that_is_not_owned_is_not_named(install: Install, holding: Holding) -> None:
    with install.bench() as bench:
        assert "You own" not in weighed(bench, 0, holding)
