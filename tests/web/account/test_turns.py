"""What takes long is worked out one by one, fairly, and who waits is told; where it cannot be, it is said."""

from __future__ import annotations

import asyncio
from contextlib import AsyncExitStack

import pytest
from bs4 import BeautifulSoup
from fastapi import FastAPI

from server.domain.errors import TooSoonError, YourTurnComesError
from server.handed import turns as module
from server.handed.turns import ElsewhereError, Turns
from server.web.account import elsewhere
from server.web.account.elsewhere import Handover
from tests.loop import run_to_its_end
from tests.web.hosted import joined

SOON_S, LONG_S = 0.01, 5.0


async def begun(turns: Turns) -> AsyncExitStack:
    """Somebody else's answer, which is being worked out until it is closed."""
    held = AsyncExitStack()
    await held.enter_async_context(turns.turn("another", "theirs", LONG_S, returns=False))
    return held


def test_several_people_have_a_turn_each_before_one_has_a_second():
    turns, order = Turns(patient=False), []

    async def ask(who: str, what: str) -> None:
        async with turns.turn(who, what, LONG_S, returns=False):
            order.append(what)

    async def all_ask() -> None:
        held = await begun(turns)
        asked = [asyncio.create_task(ask(what[0], what)) for what in ("a1", "a2", "a3", "b1", "c1", "b2")]
        await asyncio.sleep(0)
        await held.aclose()
        await asyncio.gather(*asked)

    run_to_its_end(all_ask())
    assert order == ["a1", "b1", "c1", "a2", "b2", "a3"]


def test_who_comes_back_has_kept_their_place_and_holds_nobody_up_meanwhile():
    turns, order = Turns(patient=False), []

    async def ask(who: str, wait_s: float = LONG_S) -> None:
        async with turns.turn(who, "it", wait_s, returns=True):
            order.append(who)

    async def all_ask() -> None:
        held = await begun(turns)
        for who, before in (("first", 1), ("second", 2)):
            with pytest.raises(YourTurnComesError) as told:
                await ask(who, SOON_S)
            assert told.value.before == before
        later = [asyncio.create_task(ask(who)) for who in ("third", "second")]
        await asyncio.sleep(0)
        await held.aclose()
        await asyncio.gather(*later)

    run_to_its_end(all_ask())
    assert order == ["second", "third"]


def test_a_place_that_nobody_comes_back_for_is_given_up(monkeypatch: pytest.MonkeyPatch):
    turns = Turns(patient=False)
    monkeypatch.setattr(module, "KEPT_S", 0.0)

    async def ask() -> int:
        held = await begun(turns)
        for who in ("first", "second"):
            with pytest.raises(YourTurnComesError) as told:
                async with turns.turn(who, "it", SOON_S, returns=True):
                    pass
        await held.aclose()
        return told.value.before

    assert run_to_its_end(ask()) == 1


def test_who_gives_up_or_fails_leaves_the_turn_to_the_next():
    turns = Turns(patient=False)

    async def fail() -> None:
        async with turns.turn("a", "it", LONG_S, returns=False):
            raise OSError

    async def all_ask() -> None:
        held = await begun(turns)
        given_up, failed = asyncio.create_task(fail()), asyncio.create_task(fail())
        await asyncio.sleep(0)
        given_up.cancel()
        await held.aclose()
        await asyncio.gather(given_up, failed, return_exceptions=True)
        async with turns.turn("a", "it", SOON_S, returns=False):
            pass

    run_to_its_end(all_ask())


def test_one_member_may_ask_for_so_much_and_on_ones_own_machine_for_all():
    async def ask_thrice(turns: Turns) -> None:
        async with turns.turn("a", "1", LONG_S, returns=False):
            second = asyncio.create_task(turns.turn("a", "2", LONG_S, returns=False).__aenter__())
            await asyncio.sleep(0)
            third = asyncio.create_task(turns.turn("a", "3", LONG_S, returns=False).__aenter__())
            await asyncio.sleep(SOON_S)
            for one in (second, third):
                one.cancel()
            if third.done():
                await third

    with pytest.raises(TooSoonError, match="2 long answers of yours"):
        run_to_its_end(ask_thrice(Turns(patient=False, most_of_one=2)))
    run_to_its_end(ask_thrice(Turns(patient=True, most_of_one=2)))


def test_a_page_that_waits_says_how_many_come_before_and_asks_again_by_itself(
    hosted: FastAPI, monkeypatch: pytest.MonkeyPatch
):
    member = joined(hosted, "Annika")
    hosted.state.turns._working["another"] = 1
    monkeypatch.setattr(module, "PAGE_WAITS_S", SOON_S)
    monkeypatch.setattr(module, "PIECE_WAITS_S", SOON_S)
    told = member.get("/sky", headers={"accept": "text/html"})
    assert (told.status_code, told.headers["refresh"], told.headers["retry-after"]) == (503, "2", "2")
    words = BeautifulSoup(told.text, "html.parser").main.get_text(" ", strip=True)
    assert "1 answer comes before yours" in words
    assert "asks again by itself" in words
    piece = member.get("/sky", headers={"hx-request": "true"})
    assert piece.status_code == 503
    assert "refresh" not in piece.headers
    data = member.get(f"/api/observers/{member.observer_id}/sky/targets")
    # Of one's own answers the second stands behind the first.
    assert data.json()["error"]["code"] == "your_turn_comes"
    assert data.json()["error"]["before"] >= 1


def test_where_the_process_is_gone_that_is_said_in_words(
    hosted: FastAPI, monkeypatch: pytest.MonkeyPatch, tmp_path
):
    member = joined(hosted, "Annika")
    monkeypatch.setattr(elsewhere, "COMES_BACK_S", 0.0)
    hosted.state.elsewhere = handover = Handover([str(tmp_path / "nobody")])
    hosted.add_exception_handler(ElsewhereError, handover)
    told = member.get("/sky")
    assert told.status_code == 503
    assert "cannot be worked out just now" in told.text
    assert member.get("/bench").status_code == 200
