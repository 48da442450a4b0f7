"""Addresses of what a club has in common, in the hosted form."""

from __future__ import annotations


class ClubUrls:
    """A method a page or action, as `Urls` has those of all others."""

    def club(self, offset: int = 0) -> str:
        """What members share with each other, behind the last `offset`."""
        return f"/club?from={offset}" if offset else "/club"

    def own_price(self, part_id: int) -> str:
        """Says what a part costs the reader that another has entered."""
        return f"/club/prices/{part_id}"

    def work_as_club(self) -> str:
        """Lets a steward work as the club."""
        return "/club/as-club"

    def work_as_oneself(self) -> str:
        """Lets a steward work as themselves again."""
        return "/club/as-oneself"

    def club_entry(self, entry_id: int) -> str:
        """An entry that is shared with the club."""
        return f"/club/entries/{entry_id}"

    def take_in_club_entry(self, entry_id: int) -> str:
        """Copies it to the reader's own."""
        return f"/club/entries/{entry_id}/take-in"

    def share_with_club(self, entry_id: int) -> str:
        """Lists an entry for all members."""
        return f"/logbook/{entry_id}/club"

    def withdraw_from_club(self, entry_id: int) -> str:
        """Lists it no more."""
        return f"/logbook/{entry_id}/club/withdraw"
