"""What a check says, raw for programs and in the reader's units for people."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from pydantic import BaseModel, Field

from server.domain.findings import WEIGHT_WORDS, Finding, Input
from server.domain.observer import UnitSystem
from server.rim.wording import write_amount, write_basis, write_figure, write_phrase


class FindingText(BaseModel):
    """A finding in words, in the units that the observer reads."""

    weight: str = Field(examples=["Watch"])
    sentence: str = Field(examples=["The sensor sits 1.2 mm too far from the corrector."])
    figure: str = Field(description="The one number with what it may be off by; empty where there is none.")
    remedies: tuple[str, ...]
    inputs: tuple[str, ...] = Field(description="One line for each of the raw inputs, in their order.")


class FindingAnswer(Finding):
    """A finding: its raw values in fixed units, and `text` for people."""

    text: FindingText

    @classmethod
    def of(cls, finding: Finding, units: UnitSystem) -> Self:
        """The answer for an observer who reads these units."""
        text = FindingText(
            weight=WEIGHT_WORDS[finding.weight],
            sentence=write_phrase(finding.phrase, units),
            figure="" if finding.figure is None else write_figure(finding.figure, units),
            remedies=tuple(write_phrase(remedy.phrase, units) for remedy in finding.remedies),
            inputs=tuple(_line(one, units) for one in finding.inputs),
        )
        return cls(**{name: getattr(finding, name) for name in Finding.model_fields}, text=text)


def _line(one: Input, units: UnitSystem) -> str:
    name = f"{one.label} of {one.of}" if one.of else one.label
    value = one.text or ("" if one.amount is None else write_amount(one.amount, units))
    if not value:
        return f"{name}: not known"
    basis = write_basis(one.basis)
    return f"{name}: {value} ({basis})" if basis else f"{name}: {value}"


def write_findings(findings: Iterable[Finding], units: UnitSystem) -> tuple[FindingAnswer, ...]:
    """All findings of a rig, in their order."""
    return tuple(FindingAnswer.of(finding, units) for finding in findings)
