"""What was measured on a rig's own frames, as the sheet of the entry that it belongs to shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from server.domain.findings import Amount, Finding
from server.domain.frames.measured import StoredMeasured
from server.domain.rig import Rig
from server.flow.keep_frames import view_frames
from server.rim.phrasebook.tell import tell
from server.web.frames.figure import level_lines


@dataclass(frozen=True)
class SheetMeasured:
    """A measurement on a sheet.

    Attributes:
        id: by which its own page is found.
        name: as its owner called it; `made_at`, `spacing`: when and at which spacing.
        levels: best focus over the sensor, None where the frames do not tell it.
        findings: what the frames say of the rig as it was saved.
    """

    id: int
    name: str
    made_at: datetime
    spacing: Amount | None
    levels: Markup | None
    findings: tuple[Finding, ...]


def sheet_measured(rig: Rig, kept: Sequence[StoredMeasured]) -> tuple[SheetMeasured, ...]:
    """An entry's measurements, as they were made. `rig`: as it was saved.

    Spacings are told by the entry's own sets alone: a link shows nothing else of its owner's.
    """
    found = []
    for one in sorted(kept, key=lambda one: (one.measured.made_at, one.id)):
        view = view_frames(rig, one.measured, tuple(kept), one.id)
        levels = None
        if one.measured.surface is not None:
            levels = level_lines(one.measured, f"fr-levels-{one.id}")
        found.append(
            SheetMeasured(
                id=one.id,
                name=one.name,
                made_at=one.measured.made_at,
                spacing=one.measured.spacing,
                levels=levels,
                findings=tuple(map(tell, view.findings)),
            )
        )
    return tuple(found)
