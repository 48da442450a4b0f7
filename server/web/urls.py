"""The one builder of addresses. Routes declare their own paths; templates and redirects ask here."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from urllib.parse import quote, urlencode, urlsplit

from server import paths
from server.web.club_urls import ClubUrls

STATIC_FOLDERS = ("css", "js", "vendor", "schemas")
"""The only sub-folders of static/ that are served: beside them lie files of the build."""

_digests: dict[Path, tuple[int, str]] = {}


def _digest(file: Path) -> str:
    """The beginning of the file's SHA-256, worked out anew when the file has changed; "" without a file."""
    try:
        changed = file.stat().st_mtime_ns
    except OSError:
        return ""
    known = _digests.get(file)
    if known is None or known[0] != changed:
        known = _digests[file] = (changed, hashlib.sha256(file.read_bytes()).hexdigest()[:12])
    return known[1]


def with_query(path: str, query: Mapping[str, object]) -> str:
    """A path with those of the query's values that are not None, "" or False; True is written as 1."""
    pairs: list[str] = []
    for name, value in query.items():
        if type(value) is int:
            # Nearly all of a bench's hundred addresses hold nothing else.
            pairs.append(f"{name}={value}")
        elif value is not None and value is not False and value != "":
            pairs.append(urlencode(((name, 1 if value is True else value),), doseq=True))
    return f"{path}?{'&'.join(filter(None, pairs))}" if pairs else path


def page_before(headers: Mapping[str, str]) -> str:
    """The page of this server that a request came from: its Referer's path and query, "" for another's."""
    page = urlsplit(headers.get("referer", ""))
    if page.netloc != headers.get("host") or not page.path.startswith("/") or page.path.startswith("//"):
        return ""
    return page.path + (f"?{page.query}" if page.query else "")


class Urls(ClubUrls):
    """A method a page or action. Each gives a path from the root of this server, ready for an href."""

    # Assets
    def static(self, name: str) -> str:
        """A file below static/, such as "css/base.css", with its content's hash: it may be kept for ever."""
        version = _digest(paths.STATIC / name)
        return f"/static/{quote(name)}" + (f"?v={version}" if version else "")

    # Welcome
    def home(self) -> str:
        """The first page: who is at the bench, and then their rigs."""
        return "/"

    def observers(self) -> str:
        """Takes in a new observer."""
        return "/observers"

    def choose_observer(self) -> str:
        """Chooses an observer, or none."""
        return "/observers/choose"

    def people(self) -> str:
        """The first page with the choice of observers, whoever is chosen now."""
        return "/observers"

    def demo(self) -> str:
        """Loads the demo club."""
        return "/demo"

    def units(self) -> str:
        """Chooses the units that are read."""
        return "/units"

    def account(self) -> str:
        """One's own account, in the hosted form."""
        return "/account"

    def sign_out(self) -> str:
        """Ends the session, in the hosted form."""
        return "/sign-out"

    def theme(self) -> str:
        """Chooses the theme."""
        return "/theme"

    def cautions(self) -> str:
        """What can hurt someone."""
        return "/cautions"

    def about(self) -> str:
        """What this program does and does not do, and its licence."""
        return "/about"

    def words(self, key: str = "") -> str:
        """What words mean; `key` is one of them."""
        return "/words" + (f"#{key}" if key else "")

    # Shelf
    def shelf(self, **query: object) -> str:
        """The shelf and the catalogue; the query holds search and filters."""
        return with_query("/shelf", query)

    def new_part(self, kind: str = "", after: int | None = None) -> str:
        """The form for a new part; without a kind, the kinds. `after` is the part entered before it."""
        return with_query("/shelf/new", {"kind": kind, "after": after})

    def paste_part(self) -> str:
        """Reads a pasted specification into the form of its kind; stores nothing."""
        return "/shelf/new/paste"

    def drawer(self, entered: Sequence[int] = (), had: Sequence[int] = ()) -> str:
        """Rings, shims, filters and adapters to be counted; the numbers are of those put in a moment ago."""
        numbers = {"entered": entered, "had": had}
        return with_query("/shelf/drawer", {name: "-".join(map(str, ids)) for name, ids in numbers.items()})

    def part(self, part_id: int, said: str = "") -> str:
        """One part; `said` names what was just done with it."""
        return with_query(f"/shelf/{part_id}", {"said": said})

    def edit_part(self, part_id: int, rig: int | None = None, field: str = "", said: str = "") -> str:
        """The form that changes a part; `rig` is the one to go back to, `field` the one to be filled in,
        `said` names what was just done with it.
        """
        return with_query(f"/shelf/{part_id}/edit", {"rig": rig, "said": said}) + (
            f"#f-{field}" if field else ""
        )

    def copy_part(self, part_id: int) -> str:
        """Copies a part."""
        return f"/shelf/{part_id}/copy"

    def remove_part(self, part_id: int) -> str:
        """Takes a part out of the catalogue."""
        return f"/shelf/{part_id}/remove"

    def doubles(self, part_id: int) -> str:
        """Looks for others that are the same as one part, in the hosted form."""
        return f"/members/doubles/{part_id}"

    def holding(self, part_id: int) -> str:
        """Says how many of a part are owned, wished for, considered."""
        return f"/shelf/{part_id}/holding"

    def understood(self, kind: str) -> str:
        """Reads one typed field of a kind and answers what was understood."""
        return with_query("/shelf/understood", {"kind": kind})

    def import_parts(self, entered: int | None = None, known: int | None = None) -> str:
        """Brings parts in from CSV; `entered` is how many just came in, `known` how many stood there."""
        # As text, since the number 0 would be left out.
        said = "" if entered is None else str(entered)
        return with_query("/shelf/import", {"entered": said, "known": known})

    def enter_parts(self) -> str:
        """Enters the good rows of a file that was reported on."""
        return "/shelf/import/enter"

    def export_parts(self, **query: object) -> str:
        """The shelf as CSV."""
        return with_query("/shelf/export.csv", query)

    # Bench
    def bench(self) -> str:
        """The observer's rigs; a new one is begun by a post to it."""
        return "/bench"

    def rig(self, rig_id: int, **query: object) -> str:
        """One rig on the bench."""
        return with_query(f"/bench/{rig_id}", query)

    def change_rig(self, rig_id: int) -> str:
        """Makes one change on a rig."""
        return f"/bench/{rig_id}/change"

    def copy_rig(self, rig_id: int) -> str:
        """Makes a copy of a rig."""
        return f"/bench/{rig_id}/copy"

    def settle(self, rig_id: int) -> str:
        """Stores a figure of a part that the rig's findings wait on."""
        return f"/bench/{rig_id}/settle"

    def working(self, rig_id: int, code: str, **query: object) -> str:
        """How a finding was worked out."""
        return with_query(f"/bench/{rig_id}/working/{quote(code)}", query)

    def undo(self, rig_id: int) -> str:
        """Takes the last change back."""
        return f"/bench/{rig_id}/undo"

    def redo(self, rig_id: int) -> str:
        """Makes a change again that was taken back."""
        return f"/bench/{rig_id}/redo"

    def change_rules(self, rig_id: int) -> str:
        """Changes what a rig is judged by."""
        return f"/bench/{rig_id}/rules"

    def rename_rig(self, rig_id: int) -> str:
        """Gives a rig another name."""
        return f"/bench/{rig_id}/name"

    def remove_rig(self, rig_id: int) -> str:
        """Removes a rig."""
        return f"/bench/{rig_id}/remove"

    def save_rig(self, rig_id: int) -> str:
        """Saves a rig as an entry."""
        return f"/bench/{rig_id}/save"

    # Stars
    def stars(self, rig_id: int, **query: object) -> str:
        """The stars of a rig; the query holds every wish."""
        return with_query(f"/bench/{rig_id}/stars", query)

    def compare_stars(self, rigs: tuple[int, ...] = (), **query: object) -> str:
        """The stars of several rigs side by side."""
        return with_query("/bench/stars", {"rig": rigs or None, **query})

    # Frames
    def frames(self, rig_id: int) -> str:
        """A rig's own frames: which to take, where to hand them in, what was measured."""
        return f"/bench/{rig_id}/frames"

    def hand_in(self, rig_id: int) -> str:
        """Takes frames in."""
        return f"/frames/hand-in/{rig_id}"

    def frame_set(self, rig_id: int, token: str, again: bool = False) -> str:
        """A set of frames on its way; `again`: its form, although it was measured."""
        return with_query(f"/bench/{rig_id}/frames/set/{token}", {"again": again})

    def keep_set(self, rig_id: int, token: str) -> str:
        """Keeps what a set says."""
        return f"/bench/{rig_id}/frames/set/{token}/keep"

    def measured(self, measured_id: int) -> str:
        """What a kept set says."""
        return f"/frames/{measured_id}"

    def measured_screws(self, measured_id: int) -> str:
        """Says where the screws stand."""
        return f"/frames/{measured_id}/screws"

    def measured_turn(self, measured_id: int) -> str:
        """Says which screw was moved since an earlier measurement."""
        return f"/frames/{measured_id}/turn"

    def measured_seeing(self, measured_id: int) -> str:
        """Puts the measured seeing into the rig's rules."""
        return f"/frames/{measured_id}/seeing"

    def measured_field(self, measured_id: int) -> str:
        """Lets the rig's stars be drawn by the measured field."""
        return f"/frames/{measured_id}/field"

    def remove_measured(self, measured_id: int) -> str:
        """Removes a measurement."""
        return f"/frames/{measured_id}/remove"

    def measured_stars(self, measured_id: int) -> str:
        """Its stars, as CSV."""
        return f"/frames/{measured_id}/stars.csv"

    def compare_measured(self, before: int | None = None, after: int | None = None) -> str:
        """Two measurements of one rig."""
        return with_query("/frames/compare", {"before": before, "after": after})

    # Load
    def load(self, rig_id: int, kept: str = "") -> str:
        """The load of a rig: weights, balance, lifts; `kept` names what was just stored."""
        return with_query(f"/bench/{rig_id}/load", {"kept": kept})

    def purpose(self, rig_id: int) -> str:
        """Keeps what a rig is for."""
        return f"/bench/{rig_id}/purpose"

    def load_understood(self) -> str:
        """Reads one typed field of the load and answers what was understood."""
        return "/bench/load/understood"

    def packing(self, rig_id: int, kept: bool = False) -> str:
        """What goes in which case; `kept` says that it was just stored."""
        return with_query(f"/bench/{rig_id}/packing", {"kept": kept})

    # Bridge
    def bridge(self, rig_id: int, **query: object) -> str:
        """The stacks that close a gap of a rig; the query holds the gap and every wish."""
        return with_query(f"/bench/{rig_id}/bridge", query)

    def bridge_stop(self, rig_id: int, **query: object) -> str:
        """Stops the search that this query began."""
        return with_query(f"/bench/{rig_id}/bridge/stop", query)

    def bridge_put(self, rig_id: int) -> str:
        """Puts a stack into a rig."""
        return f"/bench/{rig_id}/bridge/put"

    def bridge_wish(self, rig_id: int, **query: object) -> str:
        """Puts a ring that would close the gap on the wish list; the query holds the gap and every wish."""
        return with_query(f"/bench/{rig_id}/bridge/wish", query)

    def kit(self, **query: object) -> str:
        """One kit for several rigs; the query holds the rigs and the drawer."""
        return with_query("/bench/kit", query)

    def kit_stop(self, **query: object) -> str:
        """Stops the planning that this query began."""
        return with_query("/bench/kit/stop", query)

    # The sky
    def sky(self, **query: object) -> str:
        """Targets: the catalogue and one's own list; the query holds search, site, rig and month."""
        return with_query("/sky", query)

    def target(self, key: str, **query: object) -> str:
        """One target under the sky; the query holds site, rigs and what is asked."""
        return with_query(f"/sky/at/{quote(key, safe='')}", query)

    def panels(self, key: str, **query: object) -> str:
        """The panels of a mosaic, as CSV."""
        return with_query(f"/sky/at/{quote(key, safe='')}/panels.csv", query)

    def sketch(self, key: str, rig_id: int, **query: object) -> str:
        """A sketch of a target on a rig, as a picture."""
        return with_query(f"/sky/at/{quote(key, safe='')}/sketch/{rig_id}.png", query)

    def sky_plan(self, **query: object) -> str:
        """Several targets on several rigs, on one page that prints."""
        return with_query("/sky/plan", query)

    def focal_lengths(self, **query: object) -> str:
        """Which focal lengths frame one's list on a sensor."""
        return with_query("/sky/focal-lengths", query)

    def list_target(self) -> str:
        """Puts an object of the catalogue on one's list."""
        return "/sky/list"

    def own_target(self, target_id: int | None = None, like: str = "") -> str:
        """The form of an own target; None for a new one."""
        return with_query(f"/sky/targets/{target_id or 'new'}", {"like": like})

    def remove_target(self, target_id: int) -> str:
        """Takes a target off the list."""
        return f"/sky/targets/{target_id}/remove"

    def site(self, site_id: int | None = None) -> str:
        """The form of a site; None for a new one."""
        return f"/sky/sites/{site_id or 'new'}"

    def remove_site(self, site_id: int) -> str:
        """Removes a site."""
        return f"/sky/sites/{site_id}/remove"

    def rig_site(self, rig_id: int) -> str:
        """Says where a rig is usually used."""
        return f"/sky/rigs/{rig_id}/site"

    # The Scout
    def scout(self, **query: object) -> str:
        """Rigs worth considering; the query holds the needs."""
        return with_query("/scout", query)

    def candidate(self, key: str, **query: object) -> str:
        """One combination that the Scout found."""
        return with_query("/scout/beside", {"c": key, **query})

    def beside(self, **query: object) -> str:
        """Combinations side by side; the query holds them as "c"."""
        return with_query("/scout/beside", query)

    def alike(self, **query: object) -> str:
        """What a combination stands for; the query holds it as "c"."""
        return with_query("/scout/alike", query)

    def scout_stops(self, **query: object) -> str:
        """What stops combinations on the bench; the query holds them as "c"."""
        return with_query("/scout/stops", query)

    def scout_csv(self, **query: object) -> str:
        """All combinations with all measures."""
        return with_query("/scout/all.csv", query)

    def take_candidate(self) -> str:
        """Puts a combination on the bench."""
        return "/scout/take"

    def swap_tube(self) -> str:
        """Puts a combination's tube into a rig that is there."""
        return "/scout/swap"

    def add_candidate(self) -> str:
        """Enters a tube that is considered, from a few figures."""
        return "/scout/candidate"

    def keep_needs(self, **query: object) -> str:
        """Keeps these needs by a name."""
        return with_query("/scout/keep", query)

    def forget_needs(self, needs_id: int) -> str:
        """Forgets needs that were kept."""
        return f"/scout/kept/{needs_id}/forget"

    def candidate_sketch(self, key: str, **query: object) -> str:
        """A sketch of a target on a combination."""
        return with_query(f"/scout/sketch/{key}.png", query)

    def upgrades(self, rig_id: int, **query: object) -> str:
        """What would better a rig most for the money."""
        return with_query(f"/scout/from/{rig_id}", query)

    # Logbook
    def logbook(self, rig_id: int | None = None, offset: int = 0) -> str:
        """All entries, or those of one rig, behind the newest `offset`."""
        return with_query("/logbook", {"rig": rig_id, "from": offset or None})

    def entry(self, entry_id: int, **said: object) -> str:
        """One entry as it was; `said` tells what was just done with it."""
        return with_query(f"/logbook/{entry_id}", said)

    def compare(self, earlier_id: int | None = None, later_id: int | None = None) -> str:
        """Two entries side by side."""
        return with_query("/logbook/compare", {"earlier": earlier_id, "later": later_id})

    def bring_back(self, entry_id: int) -> str:
        """Makes an entry's train the present one."""
        return f"/logbook/{entry_id}/bring-back"

    def share_entry(self, entry_id: int) -> str:
        """Makes a link to an entry."""
        return f"/logbook/{entry_id}/share"

    def withdraw_share(self, entry_id: int, share_id: int) -> str:
        """Withdraws a link."""
        return f"/logbook/{entry_id}/share/{share_id}/withdraw"

    def entry_html(self, entry_id: int) -> str:
        """An entry as one self-contained page."""
        return f"/logbook/{entry_id}/file.html"

    def entry_json(self, entry_id: int) -> str:
        """An entry as JSON."""
        return f"/logbook/{entry_id}/file.json"

    def take_in(self) -> str:
        """Takes in an entry's file from another install."""
        return "/logbook/take-in"

    # Share
    def shared(self, token: str) -> str:
        """What a link shows."""
        return f"/s/{quote(token, safe='')}"

    def shared_view(self, token: str, theme: str, units: str) -> str:
        """What a link shows, in a theme and units named by the address: on the network no choice is kept."""
        return with_query(self.shared(token), {"theme": theme, "units": units})

    def shared_html(self, token: str, units: str = "") -> str:
        """What a link shows, as one self-contained page."""
        return with_query(f"{self.shared(token)}/file.html", {"units": units})

    def shared_json(self, token: str) -> str:
        """What a link shows, as JSON."""
        return f"{self.shared(token)}/file.json"

    def put_on_shelf(self, token: str) -> str:
        """Copies what a link shows to the observer's own."""
        return f"/s/{quote(token, safe='')}/put-on-shelf"
