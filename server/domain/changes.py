"""What changed between two saved entries.

Parts in, out, moved; specifications; gear; rules; findings that turned.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.domain.entry import EntryDocument
from server.domain.findings import Finding, ShortFinding, Weight
from server.domain.load_plan import LOAD_WORDS, LoadPlan
from server.domain.parts import CataloguedPart, Part
from server.domain.rig import PlacePlan
from server.frozen import frozen


@dataclass(frozen=True)
class FieldChange:
    """One field of one part that differs: raw values, None for empty."""

    part: str
    field: str
    label: str
    before: object
    after: object
    kind: str


@dataclass(frozen=True)
class FindingTurn:
    """A finding whose weight turned, that came (before None), or that went (after None)."""

    before: Finding | None
    after: Finding | None


@dataclass(frozen=True)
class EntryChanges:
    """All differences between an earlier and a later entry."""

    parts_in: tuple[str, ...] = ()
    parts_out: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    turned_round: tuple[str, ...] = ()
    set_lengths: tuple[tuple[str, float | None, float | None], ...] = ()
    branch_in: tuple[str, ...] = ()
    branch_out: tuple[str, ...] = ()
    gear_in: tuple[str, ...] = ()
    gear_out: tuple[str, ...] = ()
    specifications: tuple[FieldChange, ...] = ()
    rules: tuple[tuple[str, float, float], ...] = ()
    load: tuple[str, ...] = ()
    findings: tuple[FindingTurn, ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether the two entries describe the same rig and say the same of it."""
        return self == EntryChanges()


def compare_documents(earlier: EntryDocument, later: EntryDocument) -> EntryChanges:
    """Compare two entries, of one rig or of two.

    Places are told apart by their key where the entries are states of one rig, and by part otherwise: both
    come out right because a key and a part number together name a place.
    """
    names = {part.id: part.part.name for part in (*earlier.parts, *later.parts)}
    before, after = earlier.plan.places, later.plan.places
    came = Counter(p.part_id for p in after) - Counter(p.part_id for p in before)
    went = Counter(p.part_id for p in before) - Counter(p.part_id for p in after)
    filters_before = Counter(i for p in before for i in p.inside)
    filters_after = Counter(i for p in after for i in p.inside)
    gear_before = Counter({g.part_id: g.quantity for g in earlier.plan.gear})
    gear_after = Counter({g.part_id: g.quantity for g in later.plan.gear})
    branch_before = Counter(p.part_id for p in earlier.plan.branch)
    branch_after = Counter(p.part_id for p in later.plan.branch)
    pairs = _pairs(before, after) + _pairs(earlier.plan.branch, later.plan.branch)
    return EntryChanges(
        parts_in=_named(came + (filters_after - filters_before), names),
        parts_out=_named(went + (filters_before - filters_after), names),
        moved=tuple(
            names[p.part_id]
            for p in (*_moved(before, after), *_moved(earlier.plan.branch, later.plan.branch))
        ),
        turned_round=tuple(names[b.part_id] for a, b in pairs if a.flipped != b.flipped),
        set_lengths=tuple(
            (names[b.part_id], a.set_length_mm, b.set_length_mm)
            for a, b in pairs
            if a.set_length_mm != b.set_length_mm
        ),
        branch_in=_named(branch_after - branch_before, names),
        branch_out=_named(branch_before - branch_after, names),
        gear_in=_named(gear_after - gear_before, names),
        gear_out=_named(gear_before - gear_after, names),
        specifications=_specifications(earlier, later),
        rules=_rules(earlier, later),
        load=_load(earlier.plan.load, later.plan.load),
        findings=turned_findings(earlier.findings, later.findings),
    )


def revised_parts(
    document: EntryDocument, present: Mapping[int, CataloguedPart]
) -> tuple[CataloguedPart, ...]:
    """Those of the catalogue's parts that say something else today than the entry's copy of them."""
    return tuple(
        present[frozen.id]
        for frozen in document.parts
        if frozen.id in present and present[frozen.id].part != frozen.part
    )


def field_changes(before: Part, after: Part) -> tuple[FieldChange, ...]:
    """The fields in which two versions of a part differ."""
    if before.kind != after.kind:
        return ()
    return tuple(
        FieldChange(
            after.name,
            spec.name,
            spec.label,
            getattr(before, spec.name),
            getattr(after, spec.name),
            after.kind,
        )
        for spec in after.specs()
        if getattr(before, spec.name) != getattr(after, spec.name)
    )


def _named(counts: Counter[int], names: Mapping[int, str]) -> tuple[str, ...]:
    return tuple(names[i] if n == 1 else f"{n} × {names[i]}" for i, n in counts.items())


def _pairs(before: tuple[PlacePlan, ...], after: tuple[PlacePlan, ...]) -> list[tuple[PlacePlan, PlacePlan]]:
    known = {(p.key, p.part_id): p for p in before}
    return [(known[(p.key, p.part_id)], p) for p in after if (p.key, p.part_id) in known]


def _moved(before: tuple[PlacePlan, ...], after: tuple[PlacePlan, ...]) -> list[PlacePlan]:
    """The fewest places whose move explains the new order: those outside a longest common subsequence."""
    old = [(p.key, p.part_id) for p in before]
    new = [(p.key, p.part_id) for p in after]
    old = [k for k in old if k in set(new)]
    new = [k for k in new if k in set(old)]
    table = [[0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i, a in enumerate(old):
        for j, b in enumerate(new):
            table[i + 1][j + 1] = table[i][j] + 1 if a == b else max(table[i][j + 1], table[i + 1][j])
    kept: set[tuple[int, int]] = set()
    i, j = len(old), len(new)
    while i and j:
        if old[i - 1] == new[j - 1]:
            kept.add(old[i - 1])
            i, j = i - 1, j - 1
        elif table[i - 1][j] >= table[i][j - 1]:
            i -= 1
        else:
            j -= 1
    return [p for p in after if (p.key, p.part_id) in set(new) and (p.key, p.part_id) not in kept]


def _specifications(earlier: EntryDocument, later: EntryDocument) -> tuple[FieldChange, ...]:
    old = {part.id: part.part for part in earlier.parts}
    return tuple(c for part in later.parts if part.id in old for c in field_changes(old[part.id], part.part))


def _rules(earlier: EntryDocument, later: EntryDocument) -> tuple[tuple[str, float, float], ...]:
    old, new = earlier.plan.rules, later.plan.rules
    return tuple(
        (name, getattr(old, name), getattr(new, name))
        for name in type(old).model_fields
        if getattr(old, name) != getattr(new, name)
    )


def _load(earlier: LoadPlan, later: LoadPlan) -> tuple[str, ...]:
    """What of the load's plan changed, in words."""
    return tuple(
        words for name, words in LOAD_WORDS.items() if getattr(earlier, name) != getattr(later, name)
    )


def turned_findings(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> tuple[FindingTurn, ...]:
    """The findings whose weight turned, that came and that went.

    One that says the same is the same, wherever it stands: two rigs number their places differently. Of the
    others those of one check, title and place are about the same thing, then those of one check and title;
    the check is the part of the code before the point.
    """
    old, pairs = list(before), dict[int, Finding]()
    for alike in (_saying, _placed, _weighed, _titled):
        for number, finding in enumerate(after):
            same = (one for one in old if alike(one) == alike(finding))
            if number not in pairs and (found := next(same, None)) is not None:
                pairs[number] = found
                old.remove(found)
    turned = [
        FindingTurn(pairs.get(number), finding)
        for number, finding in enumerate(after)
        if number not in pairs or pairs[number].weight != finding.weight
    ]
    gone = [FindingTurn(finding, None) for finding in old]
    return tuple(t for t in turned + gone if not _only_sound(t))


def _titled(finding: Finding) -> tuple[object, ...]:
    return check_of(finding), finding.title


def _weighed(finding: Finding) -> tuple[object, ...]:
    return finding.code, finding.title, finding.weight


def _placed(finding: Finding) -> tuple[object, ...]:
    return check_of(finding), finding.title, finding.place


def _saying(finding: Finding) -> tuple[object, ...]:
    return finding.code, finding.title, finding.weight, finding.phrase.template


def check_of(finding: ShortFinding) -> str:
    """The check that a finding is of."""
    return finding.code.partition(".")[0]


@frozen
class Standing:
    """What a finding that is not sound says, as short as it can be told apart by."""

    weight: Weight
    check: str
    place: int | None
    title: str


def standings_of(findings: Iterable[ShortFinding]) -> tuple[Standing, ...]:
    """All that is not sound."""
    return tuple(Standing(f.weight, check_of(f), f.place, f.title) for f in findings if f.weight != "sound")


def turned_standings(
    before: Iterable[Standing], after: Iterable[Standing]
) -> tuple[tuple[Standing, ...], tuple[Standing, ...]]:
    """What of a rig's findings came or turned by one change, and what went without one in its place."""
    old, new = Counter(before), Counter(after)
    came = tuple((new - old).elements())
    about = {(one.check, one.place, one.title) for one in came}
    went = (one for one in (old - new).elements() if (one.check, one.place, one.title) not in about)
    return came, tuple(went)


def _only_sound(turn: FindingTurn) -> bool:
    """A sound finding that came or went says nothing by itself."""
    present = turn.after or turn.before
    return (turn.before is None or turn.after is None) and present is not None and present.weight == "sound"
