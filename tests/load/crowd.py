"""The members at work, and what came of it."""

from __future__ import annotations

import asyncio
import random
import re
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field

import httpx

from server.flow.accounts import form_token
from server.web.account.gate import SESSION_COOKIE
from tests.bench.serving import HTMX
from tests.load.club import PASSWORD, RING, Member

PUBLIC = "https://rigs.example"
IN_WORDS = re.compile(r"(The club's database|Too many are|Another change|What takes long)[^<\"]*")
FIRST_MM, STEP_MM = 11.0, 0.01
AFTERWARDS_S = 10.0
"""How long after a fault has ended an answer may still be a 503."""
PATIENCE_S = 40.0

READS = (
    *["/bench/{rig}"] * 3,
    *["/api/observers/{observer}/rigs/{rig}"] * 2,
    "/",
    "/bench",
    "/shelf",
    "/logbook",
    "/sky",
    "/words",
)
HEAVY = ("/bench/{rig}/stars", "/shelf?q=ring+54", "/bench/{rig}/bridge")


@dataclass
class Ledger:
    """What happened."""

    taken: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    in_words: Counter[str] = field(default_factory=Counter)
    cut: int = 0
    faults: list[tuple[float, float]] = field(default_factory=list)
    recovered: list[str] = field(default_factory=list)

    def excused(self, begun: float) -> bool:
        """Whether a request that began then may fail: a fault was going on, or had just ended."""
        now = time.monotonic()
        return any(begun <= end + AFTERWARDS_S and since <= now for since, end in self.faults)


class Crowd:
    """The members, at work."""

    def __init__(self, port: int, members: list[Member], pause: float) -> None:
        self.members, self.ledger, self._pause = members, Ledger(), pause
        # Shorter than the server keeps a silent connection, so that none is closed while it is asked.
        limits = httpx.Limits(max_connections=None, keepalive_expiry=3.0)
        self._client = httpx.AsyncClient(
            base_url=f"http://127.0.0.1:{port}", limits=limits, timeout=PATIENCE_S, trust_env=False
        )
        self._dice = random.Random(20261130)

    async def ask(self, member: Member, kind: str, path: str, form: dict[str, str] | None = None):
        """An answer, or None where the request failed; what went wrong is noted."""
        headers = {
            "Host": "rigs.example",
            "Cookie": f"{SESSION_COOKIE}={member.token}",
            # As behind a proxy: each comes from a place of their own.
            "X-Forwarded-For": f"10.0.{member.number // 250}.{member.number % 250 + 1}",
        }
        if form is not None:
            headers |= {"Origin": PUBLIC, **(HTMX if member.token else {})}
            form = form | ({"form_token": form_token(member.token)} if member.token else {})
        begun = time.monotonic()
        try:
            answer = await self._client.request(
                "GET" if form is None else "POST", path, data=form, headers=headers
            )
        except httpx.HTTPError as error:
            self.ledger.cut += 1
            if not self.ledger.excused(begun):
                self.ledger.errors.append(f"{kind} {path}: {type(error).__name__} {error}")
            return None
        if answer.status_code in (200, 303):
            meanwhile = f"{kind} in a fault" if self.ledger.excused(begun) else kind
            self.ledger.taken[meanwhile].append(time.monotonic() - begun)
            return answer
        said = IN_WORDS.search(answer.text.replace("&#39;", "'"))
        if answer.status_code == 503 and said and self.ledger.excused(begun):
            self.ledger.in_words[said[0]] += 1
        else:
            words = said[0] if said else " ".join(re.sub(r"<[^>]*>", " ", answer.text).split())[-200:]
            self.ledger.errors.append(f"{kind} {path}: {answer.status_code} {words}")
        return None

    async def sign_in(self, member: Member) -> None:
        answer = await self.ask(
            member, "sign in", "/sign-in", {"login": f"Member {member.number}", "password": PASSWORD}
        )
        assert answer is not None, self.ledger.errors
        member.token = answer.headers["set-cookie"].partition("=")[2].partition(";")[0]

    async def change(self, member: Member, kind: str = "change") -> None:
        """Sets a length that this rig never had."""
        if not member.sure:
            await self.look(member)
            if not member.sure:
                return
        member.tried += 1
        length = round(FIRST_MM + STEP_MM * member.tried, 2)
        said = {"verb": "set_length", "place": str(RING), "length": f"{length} mm"}
        form = {"version": str(member.version), **said}
        member.sure = False
        answer = await self.ask(member, kind, f"/bench/{member.rig}/change", form)
        if answer is None:
            member.unsure.add(length)
            return
        member.version += 1
        member.acknowledged.append(length)
        member.sure = True
        if f'data-version="{member.version}"' not in answer.text:
            self.ledger.errors.append(f"{kind}: the answer is not of version {member.version}")

    async def look(self, member: Member) -> None:
        """Reads the own rig, as after an answer that did not come, and checks what was acknowledged."""
        answer = await self.ask(member, "read", member.filled("/api/observers/{observer}/rigs/{rig}"))
        if answer is None:
            return
        body = answer.json()
        length = next(one["set_length_mm"] for one in body["train"] if one["key"] == RING)
        last = member.acknowledged[-1] if member.acknowledged else None
        if body["version"] == member.version and length == last:
            member.sure = True
        elif not member.sure and body["version"] == member.version + 1 and length in member.unsure:
            # It was kept, though nobody could say so.
            member.version += 1
            member.unsure.remove(length)
            member.acknowledged.append(length)
            member.sure = True
        else:
            self.ledger.errors.append(
                f"read: version {body['version']} at {length} mm, where {member.version} at {last} mm was "
                "acknowledged"
            )

    async def work(self, member: Member, until: float) -> None:
        """Reads, changes and asks, with pauses, until then."""
        await asyncio.sleep(self._dice.uniform(0, self._pause))
        while time.monotonic() < until:
            cast = self._dice.random()
            if cast < 0.70:
                path = self._dice.choice(READS)
                if path.startswith("/api/"):
                    await self.look(member)
                else:
                    await self.ask(member, "read", member.filled(path))
            elif cast < 0.95:
                await self.change(member)
            else:
                await self.ask(member, "heavy", member.filled(self._dice.choice(HEAVY)))
            await asyncio.sleep(self._dice.uniform(0.5, 1.5) * self._pause)

    async def is_ready(self) -> bool:
        try:
            return (await self._client.get("/ready", headers={"Host": "rigs.example"})).status_code == 200
        except httpx.HTTPError:
            return False

    async def close(self) -> None:
        await self._client.aclose()
