"""Who may ask for which route of the hosted form: `test_who_sees_what.py` asks each of them as everybody."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from tests.web.hosted import OTHER, PASSWORD

GARDEN = {
    "name": "Yard",
    "latitude_deg": "50",
    "longitude_deg": "8",
    "zone": "Europe/Berlin",
    "seeing_arcsec": "3",
    "revision": "{site_revision}",
}
SITE: dict[str, object] = {
    "name": "Yard",
    "latitude_deg": 50.0,
    "longitude_deg": 8.0,
    "zone": "Europe/Berlin",
}
CLOUD: dict[str, object] = {"name": "Cloud", "kind": "DrkN", "ra_deg": 58.0, "dec_deg": 24.5}
CLOUD_FORM = {
    "name": "Cloud",
    "kind": "DrkN",
    "ra_deg": "3 h 52 m",
    "dec_deg": "24.5",
    "revision": "{target_revision}",
}
RING = {"kind": "spacer_ring", "maker": "Halden", "model": "Ring", "length_mm": {"nominal": 5.0}}

Who = Literal["anyone", "member", "owner", "steward"]


@dataclass(frozen=True)
class Line:
    """What a route is expected to do.

    Attributes:
        who: anyone; a member, who is shown their own alone; the owner of what is named; a steward.
        sent: the form, or below /api the JSON. Texts in braces are filled in.
        query: behind the path.
        fine: what it answers to who may ask; a 422 where what is sent would have to be long.
        refused: what it answers to another than the owner.
        corrected: whether a steward may do it with another's.
    """

    who: Who
    sent: dict[str, Any] = field(default_factory=dict)
    query: str = ""
    fine: frozenset[int] = frozenset({200, 201, 204, 303})
    refused: frozenset[int] = frozenset({404})
    corrected: bool = False


def anyone(**sent: Any) -> Line:
    return Line("anyone", sent)


def member(query: str = "", **sent: Any) -> Line:
    return Line("member", sent, query)


def owner(query: str = "", **sent: Any) -> Line:
    return Line("owner", sent, query)


def steward(**sent: Any) -> Line:
    return Line("steward", sent)


def also(line: Line, *statuses: int) -> Line:
    """The same, where what is sent is not all that is needed, or what is asked for is not there."""
    return Line(line.who, line.sent, line.query, line.fine | set(statuses), line.refused)


def hidden(line: Line, *statuses: int) -> Line:
    """The same, where another's is refused by these."""
    return Line(line.who, line.sent, line.query, line.fine, frozenset(statuses))


def corrected(line: Line) -> Line:
    """The same, where a steward may do it with another's."""
    return replace(line, corrected=True)


VERSION = {"version": "{version}"}
ME = "/api/observers/{observer_id}"

LINES: dict[str, Line] = {
    # Open
    "GET /health": anyone(),
    "GET /ready": anyone(),
    "GET /sign-in": anyone(),
    "POST /sign-in": anyone(login="Annika Thornquist", password=PASSWORD),
    "POST /sign-in/passkey/begin": anyone(),
    "POST /sign-in/passkey": also(anyone(credential="{}"), 422),
    "GET /lost-password": anyone(),
    "POST /lost-password": anyone(login="Annika Thornquist"),
    "GET /door": anyone(),
    "POST /door": anyone(login="Zoe", words="Hello", password=OTHER, again=OTHER),
    "GET /invitation/{token}": anyone(),
    "POST /invitation/{token}": anyone(login="Yan", password=OTHER, again=OTHER),
    "GET /password/{token}": anyone(),
    "POST /password/{token}": anyone(password=OTHER, again=OTHER),
    "GET /s/{token}": anyone(),
    "GET /s/{token}/file.html": anyone(),
    "GET /s/{token}/file.json": anyone(),
    # One's own account
    "POST /sign-out": member(),
    "GET /account": member(),
    "POST /account/password": member(present=PASSWORD, password=OTHER, again=OTHER),
    "POST /account/passkeys/new": member(passkey="Telephone", proof=PASSWORD),
    "POST /account/passkeys": also(member(passkey="Telephone", credential="{}"), 422),
    "POST /account/passkeys/{passkey_id}/remove": hidden(owner(), 404),
    "POST /account/mail": member(mail="zoe@club.example", mail_proof=PASSWORD),
    "POST /account/mail/forget": member(),
    "GET /account/mail/{token}": owner(),
    "POST /account/mail/{token}": owner(),
    "POST /account/sessions/end-others": member(),
    "POST /account/sessions/{session_id}/end": member(),
    "GET /account/take-out.json": member(),
    "GET /account/take-out.zip": member(),
    "POST /account/delete": member(leaving=PASSWORD),
    # Shared with the club: what nobody shares is nowhere, for its owner as well
    "GET /club": member(),
    "GET /club/entries/{entry_id}": also(owner(), 404),
    "POST /club/entries/{entry_id}/take-in": also(owner(), 404),
    "POST /logbook/{entry_id}/club": owner(),
    "POST /logbook/{entry_id}/club/withdraw": owner(),
    f"GET {ME}/club/gear": owner(),
    f"GET {ME}/club/entries": owner(),
    f"GET {ME}/club/entries/{{entry_id}}": also(owner(), 404),
    f"POST {ME}/club/entries/{{entry_id}}/take-in": also(owner(), 404),
    f"PUT {ME}/entries/{{entry_id}}/club": owner(),
    f"DELETE {ME}/entries/{{entry_id}}/club": owner(),
    "POST /club/prices/{part_id}": member(price="24.50 EUR"),
    f"PUT {ME}/parts/{{part_id}}/price": owner(price={"hundredths": 2450, "currency": "EUR"}),
    "POST /club/as-club": steward(),
    "POST /club/as-oneself": member(),
    # Stewards
    "GET /members": steward(),
    "GET /members/log": steward(),
    "GET /members/doubles": steward(),
    "GET /members/doubles/{part_id}": steward(),
    "GET /members/doubles/{part_id}/{other_part_id}": steward(),
    "POST /members/doubles/{part_id}/{other_part_id}": also(
        steward(keep="{part_id}", revision="1", other_revision="1"), 409, 422
    ),
    "POST /members/invite": steward(role="member"),
    "POST /members/invitations/{link_id}/withdraw": steward(),
    "POST /members/asked/{asked_id}": steward(answer="confirm"),
    "POST /members/{observer_id}/password-link": steward(),
    "POST /members/{observer_id}/role": steward(role="steward"),
    "POST /members/{observer_id}/closed": steward(closed="yes"),
    # First page
    "GET /": member(),
    "GET /cautions": member(),
    "GET /about": member(),
    "GET /words": member(),
    "POST /units": member(units="imperial"),
    "POST /theme": member(theme="dark"),
    # Shelf: the catalogue is the club's, what one has of it is one's own
    "GET /shelf": member(),
    "GET /shelf/export.csv": member(),
    "GET /shelf/import": member(),
    "POST /shelf/import": also(member(), 422),
    "POST /shelf/import/enter": also(member(), 422),
    "GET /shelf/drawer": member(),
    "POST /shelf/drawer": also(member(), 422),
    "GET /shelf/new": member(),
    "POST /shelf/new": also(member("kind=spacer_ring", maker="Halden", model="Ring"), 422),
    "POST /shelf/new/paste": also(member(text="M48 ring 5 mm"), 422),
    "GET /shelf/understood": also(member("kind=spacer_ring&length_mm=5"), 422),
    "GET /shelf/{part_id}": member(),
    "POST /shelf/{part_id}/holding": member(step="owned:1"),
    "GET /shelf/{part_id}/edit": corrected(hidden(owner(), 403)),
    "POST /shelf/{part_id}/edit": corrected(
        hidden(also(owner(revision="1", maker="Halden", model="Other"), 422), 403)
    ),
    "POST /shelf/{part_id}/copy": member(),
    "POST /shelf/{part_id}/remove": hidden(also(owner(), 409), 403),
    # Bench
    "GET /bench": member(),
    "POST /bench": member(name="Second"),
    "GET /bench/kit": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "POST /bench/kit/stop": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "GET /bench/stars": also(member("rig={rig_id}&rig={other_rig_id}"), 404),
    "GET /bench/{rig_id}": owner(),
    "GET /bench/{rig_id}/stars": owner(),
    "POST /bench/{rig_id}/name": owner(**VERSION, name="Renamed"),
    "POST /bench/{rig_id}/remove": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/change": owner(**VERSION, verb="remove", place="1"),
    "POST /bench/{rig_id}/settle": also(
        owner(part_id="{part_id}", revision="1", field="mass_kg", text="1"), 409, 422
    ),
    "POST /bench/{rig_id}/copy": owner(),
    "GET /bench/{rig_id}/working/{code}": also(owner(), 404),
    "POST /bench/{rig_id}/rules": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/undo": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/redo": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/save": owner(**VERSION, title="Again"),
    # Frames
    "GET /bench/{rig_id}/frames": owner(),
    "POST /frames/hand-in/{rig_id}": also(owner(), 422),
    "GET /bench/{rig_id}/frames/set/{token}": owner(),
    "POST /bench/{rig_id}/frames/set/{token}": also(owner(do="stop"), 422),
    "POST /bench/{rig_id}/frames/set/{token}/keep": also(owner(name="Kept"), 404, 422),
    "GET /frames/compare": also(owner("before={measured_id}&after={other_measured_id}"), 422),
    "GET /frames/{measured_id}": owner(),
    "POST /frames/{measured_id}/screws": also(owner(), 422),
    "POST /frames/{measured_id}/turn": also(owner(), 422),
    "POST /frames/{measured_id}/seeing": also(owner(), 422),
    "POST /frames/{measured_id}/field": also(owner(), 422),
    "POST /frames/{measured_id}/remove": owner(),
    "GET /frames/{measured_id}/stars.csv": owner(),
    # Load
    "GET /bench/{rig_id}/load": owner(),
    "POST /bench/{rig_id}/load": also(owner(**VERSION), 422),
    "POST /bench/{rig_id}/purpose": also(owner(**VERSION), 422),
    "GET /bench/load/understood": also(member("mass=1"), 404),
    # It leads to the load and reads nothing.
    "GET /bench/{rig_id}/load/{rest:path}": member(),
    "GET /bench/{rig_id}/packing": owner(),
    "POST /bench/{rig_id}/packing": also(owner(**VERSION), 422),
    # Bridge
    "GET /bench/{rig_id}/bridge": owner(),
    "POST /bench/{rig_id}/bridge/stop": owner(),
    "POST /bench/{rig_id}/bridge/put": also(owner(**VERSION, sky="1", camera="2", uses=""), 422),
    # It puts a ring on the asker's own wish list; of the rig it reads nothing.
    "POST /bench/{rig_id}/bridge/wish": also(member(seat="M48x0.75 male", length="5 mm"), 404, 422),
    # The sky
    "GET /sky": member(),
    "GET /sky/sites/new": member(),
    "POST /sky/sites/new": also(member(**GARDEN), 422),
    "GET /sky/sites/{site_id}": owner(),
    "POST /sky/sites/{site_id}": also(owner(**GARDEN), 422),
    "POST /sky/sites/{site_id}/remove": owner(),
    "POST /sky/rigs/{rig_id}/site": owner(site="{site_id}"),
    "GET /sky/targets/new": member(),
    "POST /sky/targets/new": also(member(**CLOUD_FORM), 422),
    "GET /sky/targets/{target_id}": owner(),
    "POST /sky/targets/{target_id}": also(owner(**CLOUD_FORM), 422),
    "POST /sky/targets/{target_id}/remove": owner(),
    "POST /sky/list": member(name="NGC7000"),
    "GET /sky/plan": member("rig={rig_id}&site={site_id}"),
    "GET /sky/focal-lengths": member(),
    "GET /sky/at/{key}": member("rig={rig_id}&site={site_id}"),
    "GET /sky/at/{key}/panels.csv": also(member("rig={rig_id}&site={site_id}"), 404, 422),
    "GET /sky/at/{key}/sketch/{rig_id}.png": also(owner("noise=1&site={site_id}"), 404),
    # Scout
    "GET /scout": member(),
    "POST /scout/candidate": also(member(), 422),
    "POST /scout/keep": also(member("budget=2000", name="Mine"), 422),
    "POST /scout/kept/{needs_id}/forget": owner(),
    "GET /scout/all.csv": member(),
    "GET /scout/from/{rig_id}": owner(),
    "GET /scout/beside": also(member(), 404, 422),
    "GET /scout/stops": also(member(), 422),
    "GET /scout/alike": also(member(), 404, 422),
    "GET /scout/sketch/{key}.png": also(member(), 404, 422),
    "POST /scout/take": also(member(c="1-2-3"), 404, 422),
    "POST /scout/swap": also(owner(c="1-2-3", rig="{rig_id}"), 404, 422),
    # Logbook, share
    "GET /logbook": member(),
    "GET /logbook/compare": also(member("earlier={entry_id}&later={other_entry_id}"), 404, 422),
    "GET /logbook/take-in": member(),
    "POST /logbook/take-in": also(member(), 422),
    "GET /logbook/{entry_id}": owner(),
    "POST /logbook/{entry_id}/bring-back": owner(),
    "GET /logbook/{entry_id}/file.html": owner(),
    "GET /logbook/{entry_id}/file.json": owner(),
    "POST /logbook/{entry_id}/share": owner(),
    "POST /logbook/{entry_id}/share/{share_id}/withdraw": owner(),
    "POST /s/{token}/put-on-shelf": member(),
    # The API: everything of it is asked in one's own name alone
    "GET /api/openapi.json": member(),
    "GET /api/kinds": member(),
    f"GET {ME}": owner(),
    f"PUT {ME}/units": owner(units="imperial"),
    f"GET {ME}/parts": owner(),
    f"POST {ME}/parts": also(owner(part=RING), 422),
    f"GET {ME}/parts/{{part_id}}": owner(),
    f"PUT {ME}/parts/{{part_id}}": also(owner(revision=1, part=RING), 422),
    f"DELETE {ME}/parts/{{part_id}}": also(owner(), 409),
    f"POST {ME}/parts/{{part_id}}/copy": owner(),
    f"PUT {ME}/parts/{{part_id}}/holding": owner(owned=2, wished=0, considered=0),
    f"GET {ME}/rigs": owner(),
    f"POST {ME}/rigs": owner(name="Second"),
    f"GET {ME}/rigs/{{rig_id}}": owner(),
    f"PUT {ME}/rigs/{{rig_id}}/name": owner(**VERSION, name="Renamed"),
    f"DELETE {ME}/rigs/{{rig_id}}": also(owner("version={version}"), 422),
    f"POST {ME}/rigs/{{rig_id}}/changes": owner(**VERSION, change={"verb": "remove", "place": 1}),
    f"POST {ME}/rigs/{{rig_id}}/undo": also(owner(**VERSION), 422),
    f"POST {ME}/rigs/{{rig_id}}/redo": also(owner(**VERSION), 422),
    f"POST {ME}/rigs/{{rig_id}}/bridge": also(owner(), 422),
    f"GET {ME}/rigs/{{rig_id}}/stars": owner(),
    f"GET {ME}/rigs/{{rig_id}}/frames": owner(),
    f"GET {ME}/rigs/{{rig_id}}/frames/plan": owner(),
    f"GET {ME}/frames/sets/{{token}}": owner(),
    f"POST {ME}/frames/sets/{{token}}/measure": also(owner(), 422),
    f"POST {ME}/frames/sets/{{token}}/stop": also(owner(), 202, 422),
    f"DELETE {ME}/frames/sets/{{token}}": owner(),
    f"POST {ME}/frames/sets/{{token}}/keep": also(owner(), 404, 422),
    f"GET {ME}/frames/compare": also(owner("before={measured_id}&after={other_measured_id}"), 422),
    f"GET {ME}/frames/{{measured_id}}": owner(),
    f"GET {ME}/frames/{{measured_id}}/stars.csv": owner(),
    f"PUT {ME}/frames/{{measured_id}}/screws": owner(radius_mm=30.0, angles_deg=[90.0, 210.0, 330.0]),
    f"POST {ME}/frames/{{measured_id}}/turn": also(
        owner(before="{other_measured_id}", number=1, out_um=50.0), 422
    ),
    f"DELETE {ME}/frames/{{measured_id}}": owner(),
    "POST /api/frames/hand-in/{observer_id}/{rig_id}": also(owner(), 422),
    f"GET {ME}/sky/sites": owner(),
    f"POST {ME}/sky/sites": also(owner(site=SITE), 422),
    f"GET {ME}/sky/sites/{{site_id}}": owner(),
    f"PUT {ME}/sky/sites/{{site_id}}": also(owner(site=SITE, revision="{site_revision}"), 422),
    f"DELETE {ME}/sky/sites/{{site_id}}": owner(),
    f"GET {ME}/sky/rigs/{{rig_id}}/site": owner(),
    f"PUT {ME}/sky/rigs/{{rig_id}}/site": owner(site_id=None),
    f"GET {ME}/sky/targets": owner(),
    f"POST {ME}/sky/targets": owner(target=CLOUD),
    f"POST {ME}/sky/list": owner(name="NGC7000"),
    f"PUT {ME}/sky/targets/{{target_id}}": owner(target=CLOUD, revision="{target_revision}"),
    f"DELETE {ME}/sky/targets/{{target_id}}": owner(),
    f"GET {ME}/sky/catalogue": owner(),
    f"GET {ME}/sky/at/{{key}}": owner(),
    f"POST {ME}/scout": owner(),
    f"POST {ME}/scout/table": owner(),
    f"POST {ME}/scout/stops": owner(keys=["1-2-3-4"]),
    f"POST {ME}/scout/rigs": also(owner(key="1-2-3"), 404, 422),
    f"GET {ME}/scout/needs": owner(),
    f"POST {ME}/scout/needs": owner(name="Mine", needs={"budget": 2000}),
    f"DELETE {ME}/scout/needs/{{needs_id}}": owner(),
    f"POST {ME}/rigs/{{rig_id}}/entries": owner(**VERSION, title="Again"),
    f"GET {ME}/entries": owner(),
    f"GET {ME}/entries/compare": owner("earlier={entry_id}&later={other_entry_id}"),
    f"GET {ME}/entries/{{entry_id}}": owner(),
    f"POST {ME}/entries/{{entry_id}}/bring-back": owner(),
    f"POST {ME}/take-in": hidden(also(owner(), 422), 404, 422),
    f"GET {ME}/entries/{{entry_id}}/shares": owner(),
    f"POST {ME}/entries/{{entry_id}}/shares": owner(),
    f"DELETE {ME}/entries/{{entry_id}}/shares/{{share_id}}": owner(),
    "GET /api/shares/{token}": member(),
    f"POST {ME}/put-on-shelf": owner(token="{share_token}"),
}

SHOWS_WHAT_IS_SHARED = {"POST /s/{token}/put-on-shelf", "GET /api/shares/{token}"}
"""Whoever holds a link may see what it shows."""
