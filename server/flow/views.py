"""What the workbench shows: a rig on the bench, a gap, a kit for several rigs, an entry."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

from server.domain.entry import Entry, FrozenPart, Share
from server.domain.errors import RefusedError
from server.domain.findings import Finding, ShortFinding
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig, RigPlan
from server.domain.said import Words
from server.domain.verdicts import Tell, Verdict
from server.flow.bridge_kit import KitPosed
from server.flow.bridge_pose import Posed
from server.flow.bridge_wishes import Gap
from server.flow.protocols import StoredRig


@dataclass(frozen=True)
class BenchView:
    """A rig on the bench: as stored, with its parts in hand, and what the checks say of it now.

    The rig is built of `plan`: the stored one, with the place of its usual site where it says none.
    """

    stored: StoredRig
    plan: RigPlan
    rig: Rig
    verdicts: tuple[Verdict, ...]
    joiners: dict[int, tuple[CataloguedPart, ...]]
    tell: Tell

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What the checks say, with all that went in: three hundred numbers, which few ask for."""
        return tuple(map(self.tell, self.verdicts))

    @cached_property
    def short_findings(self) -> tuple[ShortFinding, ...]:
        """What the checks say."""
        return tuple(map(self.tell.short, self.verdicts))


@dataclass(frozen=True)
class BridgeView:
    """A gap on the bench.

    Attributes:
        gap: None where it could not be found; `posed` None where it cannot be searched; `trouble` says why.
        key: all that an answer depends on; equal keys have equal answers.
    """

    stored: StoredRig
    rig: Rig
    gap: Gap | None
    posed: Posed | None
    trouble: Words
    key: Hashable


@dataclass(frozen=True)
class KitView:
    """Several rigs of one observer, for which one kit is planned.

    Attributes:
        rigs: each as stored, with its gap or why it has none.
        posed: None where there is nothing to plan; `trouble` says why.
        key: all that an answer depends on; equal keys have equal answers.
    """

    rigs: tuple[tuple[StoredRig, Rig, Gap | RefusedError], ...]
    posed: KitPosed | None
    trouble: Words
    key: Hashable


@dataclass(frozen=True)
class EntryView:
    """An entry opened: as it was, what today's rules say of it, and which of its parts have changed since.

    `revised` are the catalogue's parts that say something else now, `gone` the entry's that have left it.
    """

    entry: Entry
    rig: Rig
    findings_now: tuple[Finding, ...]
    revised: tuple[CataloguedPart, ...]
    gone: tuple[FrozenPart, ...]
    shares: tuple[Share, ...]
