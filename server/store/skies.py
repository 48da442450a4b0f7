"""Sites under the sky, lists of targets, and what is asked of the Scout."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Table, delete, insert, select, update

from server.domain.errors import FieldErrors, StaleVersionError
from server.domain.scout.needs import Needs, StoredNeeds
from server.domain.sky.site import Site, StoredSite
from server.domain.sky.target import ListedTarget, Target
from server.store import tables
from server.store.unit import Unit, not_found

site, target, needs = tables.site.c, tables.target.c, tables.needs.c


class Skies(Unit):
    """What an observer keeps of the sky, and wants of a rig."""

    def sites(self, observer_id: int) -> tuple[StoredSite, ...]:
        """The observer's sites, by name."""
        asked = select(tables.site).where(site.observer_id == observer_id).order_by(site.sort_key, site.id)
        return tuple(map(_site, self._rows(asked)))

    def site(self, site_id: int) -> StoredSite:
        """One site. Raises NotFoundError."""
        return _site(self._one(select(tables.site).where(site.id == site_id), "site", site_id))

    def add_site(self, observer_id: int, new: Site) -> StoredSite:
        """A new site."""
        values = {"observer_id": observer_id, "revision": 1, **_site_values(new)}
        made = self._connection.execute(insert(tables.site).returning(site.id), values).scalar_one()
        return StoredSite(id=made, observer_id=observer_id, revision=1, site=new)

    def change_site(self, site_id: int, revision: int, new: Site) -> StoredSite:
        """Store a site anew. Raises StaleVersionError, NotFoundError."""
        self._revise(tables.site, "site", site_id, revision, _site_values(new))
        return self.site(site_id)

    def remove_site(self, site_id: int) -> None:
        """Remove a site. Raises NotFoundError."""
        if not self._run(delete(tables.site).where(site.id == site_id)):
            raise not_found("site", site_id)

    def set_rig_site(self, rig_id: int, site_id: int | None) -> None:
        """Say where a rig is usually used, None for nowhere in particular."""
        self._run(delete(tables.rig_site).where(tables.rig_site.c.rig_id == rig_id))
        if site_id is not None:
            self._run(insert(tables.rig_site), {"rig_id": rig_id, "site_id": site_id})

    def targets(self, observer_id: int) -> tuple[ListedTarget, ...]:
        """The observer's list, by name."""
        asked = select(tables.target).where(target.observer_id == observer_id)
        return tuple(map(_target, self._rows(asked.order_by(target.sort_key))))

    def target(self, target_id: int) -> ListedTarget:
        """One line of a list. Raises NotFoundError."""
        asked = select(tables.target).where(target.id == target_id)
        return _target(self._one(asked, "target", target_id))

    def add_target(self, observer_id: int, name: str, new: Target | None) -> ListedTarget:
        """Put a target on the list. Raises FieldErrors("name") where the list has that name."""
        self._demand_free(observer_id, name)
        values = {"observer_id": observer_id, "revision": 1, **_target_values(name, new)}
        made = self._connection.execute(insert(tables.target).returning(target.id), values).scalar_one()
        return ListedTarget(id=made, observer_id=observer_id, revision=1, name=name, target=new)

    def change_target(self, target_id: int, revision: int, new: Target) -> ListedTarget:
        """Store an own target anew. Raises StaleVersionError, NotFoundError, FieldErrors("name")."""
        self._demand_free(self.target(target_id).observer_id, new.name, but=target_id)
        self._revise(tables.target, "target", target_id, revision, _target_values(new.name, new))
        return self.target(target_id)

    def remove_target(self, target_id: int) -> None:
        """Take a target off the list. Raises NotFoundError."""
        if not self._run(delete(tables.target).where(target.id == target_id)):
            raise not_found("target", target_id)

    def kept_needs(self, observer_id: int) -> tuple[StoredNeeds, ...]:
        """The observer's needs, by name."""
        asked = select(tables.needs).where(needs.observer_id == observer_id).order_by(needs.sort_key)
        return tuple(
            StoredNeeds(row.id, row.observer_id, row.name, Needs.model_validate_json(row.document))
            for row in self._rows(asked)
        )

    def keep_needs(self, observer_id: int, name: str, new: Needs) -> None:
        """Keep needs by a name, in place of those that have it."""
        self._run(delete(tables.needs).where(needs.observer_id == observer_id, needs.sort_key == _key(name)))
        values = {"name": name, "sort_key": _key(name), "document": new.model_dump_json()}
        self._run(insert(tables.needs), {"observer_id": observer_id, **values})

    def forget_needs(self, observer_id: int, needs_id: int) -> None:
        """Forget needs of the observer's. Raises NotFoundError."""
        own = (needs.id == needs_id) & (needs.observer_id == observer_id)
        if not self._run(delete(tables.needs).where(own)):
            raise not_found("list of needs", needs_id)

    def _demand_free(self, observer_id: int, name: str, but: int | None = None) -> None:
        asked = select(target.id).where(target.observer_id == observer_id, target.sort_key == _key(name))
        taken = self._connection.execute(asked).scalar()
        if taken not in (None, but):
            raise FieldErrors({"name": f"“{name}” is on your list already: give this one another name."})

    def _revise(
        self, table: Table, what: str, number: int, revision: int, values: dict[str, str | None]
    ) -> None:
        row = self._one(select(table.c.revision).where(table.c.id == number), what, number)
        if row.revision != revision:
            raise StaleVersionError(
                f"This {what} was changed meanwhile, in another window, so nothing was stored. "
                "Storing it now replaces that change.",
                row.revision,
            )
        self._run(update(table).where(table.c.id == number).values(revision=revision + 1, **values))


def _key(name: str) -> str:
    """Equal for names that people take for the same."""
    return " ".join(name.split()).casefold()


def _site_values(new: Site) -> dict[str, str | None]:
    return {"sort_key": _key(new.name), "document": new.model_dump_json()}


def _target_values(name: str, new: Target | None) -> dict[str, str | None]:
    document = None if new is None else new.model_dump_json()
    return {"name": name, "sort_key": _key(name), "document": document}


def _site(row: Any) -> StoredSite:
    return StoredSite(
        id=row.id,
        observer_id=row.observer_id,
        revision=row.revision,
        site=Site.model_validate_json(row.document),
    )


def _target(row: Any) -> ListedTarget:
    return ListedTarget(
        id=row.id,
        observer_id=row.observer_id,
        revision=row.revision,
        name=row.name,
        target=None if row.document is None else Target.model_validate_json(row.document),
    )
