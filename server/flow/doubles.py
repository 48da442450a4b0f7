"""Parts that were entered twice: found, laid side by side, and merged, by stewards of a club."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from server.domain.account import SignedIn
from server.domain.changes import FieldChange, field_changes
from server.domain.errors import RefusedError, StaleVersionError
from server.domain.part_history import folded
from server.domain.parts import CataloguedPart
from server.domain.said import said
from server.flow.account_protocols import AccountStore, AccountStores, Uses
from server.flow.accounts import demand_steward
from server.flow.keep_parts import demand_unmerged
from server.flow.protocols import PartQuery

MOST_GROUPS = 30
MOST_ALIKE = 20

Beside = tuple[CataloguedPart, tuple[CataloguedPart, ...]]
"""A part, and those that may be its doubles."""


@dataclass(frozen=True)
class Pair:
    """Two parts side by side.

    Attributes:
        uses: where each is used.
        differ: the fields in which they differ, the one's value before the other's.
        joints: those of them that are connections known of both, and so not the same thing.
    """

    one: CataloguedPart
    other: CataloguedPart
    uses: tuple[Uses, Uses]
    differ: tuple[FieldChange, ...]
    joints: tuple[FieldChange, ...]

    @property
    def trouble(self) -> str:
        """Why they cannot be merged at all, or ""."""
        if self.one.id == self.other.id:
            return "This is one and the same part."
        if self.one.kind != self.other.kind:
            kinds = f"{self.one.part.kind_words} and {self.other.part.kind_words}"
            return f"These are parts of different kinds ({kinds}), so neither can stand for the other."
        return ""


@dataclass(frozen=True)
class Merged:
    """What is asked for: which part goes, which stays, the revisions that were looked at, and whether they
    are one part though their connections differ.
    """

    gone_id: int
    gone_revision: int
    kept_id: int
    kept_revision: int
    joints_seen: bool = False


class Doubles:
    """The verbs, over a store."""

    def __init__(
        self, stores: AccountStores, now: Callable[[], datetime] = lambda: datetime.now(UTC)
    ) -> None:
        self._stores, self._now = stores, now

    def likely(self, by: SignedIn) -> tuple[tuple[CataloguedPart, ...], ...]:
        """Parts of one kind whose names are the same but for how they are written, some of them."""
        with self._stores.reading() as store:
            demand_steward(store, by)
            alike: dict[tuple[str, str], list[int]] = defaultdict(list)
            for number, kind, name in store.part_names():
                if key := folded(name):
                    alike[kind, key].append(number)
            groups = [numbers for numbers in alike.values() if len(numbers) > 1][:MOST_GROUPS]
            known = store.parts(number for numbers in groups for number in numbers[:MOST_ALIKE])
        return tuple(tuple(known[number] for number in numbers[:MOST_ALIKE]) for numbers in groups)

    def beside(self, by: SignedIn, part_id: int, text: str) -> Beside:
        """A part, and those of its kind that a text finds, or its own name where there is none."""
        with self._stores.reading() as store:
            demand_steward(store, by)
            item = store.part(part_id)
            query = PartQuery(by.account.observer_id, text or item.name, item.kind, limit=MOST_ALIKE + 1)
            found = [line.item for line in store.find_parts(query).lines]
        return item, tuple(one for one in found if one.id != item.id)[:MOST_ALIKE]

    def pair(self, by: SignedIn, one_id: int, other_id: int) -> Pair:
        """Two parts side by side. Raises NotFoundError."""
        with self._stores.reading() as store:
            demand_steward(store, by)
            return _pair(store, one_id, other_id)

    def merge(self, by: SignedIn, asked: Merged) -> CataloguedPart:
        """Let one part stand for both; the one that stays. Raises RefusedError for what cannot be merged,
        StaleVersionError where either was changed meanwhile, NotFoundError.
        """
        mine = by.account.observer_id
        with self._stores.writing() as store:
            demand_steward(store, by)
            pair = _pair(store, asked.gone_id, asked.kept_id)
            gone, kept = pair.one, pair.other
            if pair.trouble:
                raise RefusedError(pair.trouble)
            for item, revision in ((gone, asked.gone_revision), (kept, asked.kept_revision)):
                if item.revision != revision:
                    raise StaleVersionError(said("refused.stale_part", part=item), item.revision)
            if pair.joints and not asked.joints_seen:
                raise RefusedError("Their connections differ. Tick that they are one part all the same.")
            store.move_prices(gone.id, kept.id)
            store.merge_part(gone, kept, mine)
            what = f"merged the part {gone.name} (number {gone.id}) into {kept.name} (number {kept.id})"
            store.log_act(self._now(), what, mine, gone.entered_by)
            return store.part(kept.id)


def _pair(store: AccountStore, one_id: int, other_id: int) -> Pair:
    one, other = store.part(one_id), store.part(other_id)
    demand_unmerged({one_id: one, other_id: other})
    differ = field_changes(one.part, other.part)
    shapes = {spec.name: spec.shape for spec in one.part.specs()}
    joints = tuple(
        change
        for change in differ
        if shapes[change.field] == "connection" and None not in (change.before, change.after)
    )
    return Pair(one, other, (store.uses_of(one.id), store.uses_of(other.id)), differ, joints)
