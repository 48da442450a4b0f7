"""The load's finding with what its mass alone does not say: arm, torque and moments of inertia."""

from __future__ import annotations

from server.domain.checks.payload import judge_payload
from server.domain.findings import Amount, AmountDimension, Finding, Input
from server.domain.guarded import worked_or_none
from server.domain.load.bodies import bodies_of, work_balance
from server.domain.load.sheet import BalanceSheet, two_digits
from server.domain.parts import Mount
from server.domain.workings.case import Case, amount, listed

FORMULA = "torque = mass x g x distance off balance; moment of inertia = sum of masses x distance squared"
SOURCE = (
    "Arm, torque and moments of inertia: statics and the parallel-axis theorem, by hand; no limit for them "
    "is published, and none is judged."
)
NO_VERDICT = "Makers publish no limit for these, so no verdict is given on them."


def check_load(case: Case) -> tuple[Finding, ...]:
    """The findings of `judge_payload`, each with the load's arm, torque and inertia where they are known.

    What is not known of them stands in the working with what to enter. They never change a verdict.
    """
    found = judge_payload(case)
    if not found:
        return ()
    sheet = worked_or_none("the balance", lambda: work_balance(case))
    if sheet is None:  # The check of the balance says why.
        return found
    sentence, amounts = _told(sheet)
    return tuple(_with(finding, sentence, amounts, _inputs(case, sheet)) for finding in found)


def _with(finding: Finding, sentence: str, amounts: dict[str, Amount], inputs: tuple[Input, ...]) -> Finding:
    phrase = finding.phrase.model_copy(
        update={"template": finding.phrase.template + sentence, "amounts": finding.phrase.amounts | amounts}
    )
    return finding.model_copy(
        update={
            "phrase": phrase,
            "inputs": (*finding.inputs, *inputs),
            "formula": f"{finding.formula}; {FORMULA}",
            "source": f"{finding.source} {SOURCE}",
        }
    )


def _told(sheet: BalanceSheet) -> tuple[str, dict[str, Amount]]:
    said: list[str] = []
    amounts: dict[str, Amount] = {}
    if sheet.moment_arm_mm is not None:
        said.append("Its centre lies {arm} from the polar axis.")
        amounts["arm"] = amount(sheet.moment_arm_mm, "length", 0)
    if sheet.imbalance_nm is not None and sheet.off_mm is not None:
        said.append("Clamped {off_balance} off its balance point, it turns declination with {torque} N m.")
        amounts["off_balance"] = amount(abs(sheet.off_mm), "length", 0)
        amounts["torque"] = _two(abs(sheet.imbalance_nm))
    about: list[str] = []
    for name, value, axis in (
        ("inertia_declination", sheet.inertia_declination, "about declination"),
        ("inertia_polar", sheet.inertia_polar, "about the polar axis at most"),
    ):
        if value is not None:
            about.append(f"{{{name}}} kg m² {axis}")
            amounts[name] = _two(value)
    if about:
        said.append(f"Its moment of inertia is about {listed(about)}.")
    return ("".join(f" {one}" for one in (*said, NO_VERDICT)), amounts) if said else ("", {})


def _inputs(case: Case, sheet: BalanceSheet) -> tuple[Input, ...]:
    places = list(bodies_of(case)[1])
    height = _height(case)
    above = [
        f"how high {body.name} sits above the saddle"
        for body in sheet.bodies
        if body.above_mm is None and body.basis == "typed"
    ]
    if case.rig.load.tube_above_saddle_mm is None:
        above.insert(0, "the tube's height above the saddle")
    clamp = [] if sheet.clamp_mm is not None else ["the middle of the saddle's clamp"]
    balance = [] if sheet.centre_mm is not None else places
    bar = [] if sheet.bar is None else list(sheet.bar.missing)
    no_bar = sheet.bar is not None and not sheet.bar.weights
    arm = [*height, *above, *places]
    polar = [*places, *height, *above, *bar, *(["counterweights that balance it"] if no_bar else [])]
    return (
        _input("the load's centre from the polar axis", sheet.moment_arm_mm, arm, "length"),
        _input("torque about declination as it is clamped, N m", sheet.imbalance_nm, [*balance, *clamp]),
        _input("moment of inertia about declination, kg m²", sheet.inertia_declination, places),
        _input("moment of inertia about the polar axis, at most, kg m²", sheet.inertia_polar, polar),
    )


def _height(case: Case) -> list[str]:
    """What to enter for the saddle's distance from the polar axis."""
    mount = case.rig.mount
    if mount is None or not isinstance(mount.part, Mount):
        return ["a mount, beside the train"]
    if mount.part.saddle_height_mm is None:
        return [f"the saddle of {mount.name} above the polar axis"]
    return []


def _two(value: float) -> Amount:
    """A figure with the digits that places known to a centimetre leave it."""
    return amount(value, "count", two_digits(value))


def _input(
    label: str, value: float | None, missing: list[str], dimension: AmountDimension = "count"
) -> Input:
    if value is not None:
        shown = amount(value, "length", 0) if dimension == "length" else _two(abs(value))
        return Input(label=label, amount=shown, basis="worked out")
    missing = list(dict.fromkeys(missing)) or ["the masses of all that rides on the saddle"]
    return Input(label=label, amount=None, basis="", text=f"not known yet: enter {listed(missing)}")
