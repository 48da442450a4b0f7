"""Frames: which to take, handing them in, measuring them, what they say, and what was kept of them."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from typing import Annotated

from fastapi import Depends, Form, Query, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from server.domain.errors import FieldErrors, RefusedError
from server.domain.rig import Rig
from server.flow import keep_frames
from server.flow.assemble_train import SetRules, SetSeen
from server.flow.frame_sets import FrameSets, SetDraft
from server.flow.keep_frames import frame_plan, view_frames
from server.flow.protocols import EntryName
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.frames import frame_sets_of
from server.handed.routing import pages
from server.rim.frame_forms import header_texts, read_screws, read_set, read_turn, screw_texts, usual_texts
from server.rim.frame_table import star_csv
from server.rim.phrasebook.tell import asked_of
from server.web.deps import HeavyBench, ReadingBench, WritingBench
from server.web.entering import form_for
from server.web.frames.page import FramesPage, compare_page, measured_page, set_page
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block
from server.web.shelf.typed import Typed

router = pages()
LONGEST = 200
MOST_FIELDS = 200


async def _uploaded(request: Request) -> AsyncIterator[list[tuple[str, UploadFile]]]:
    """The files of a form, and with them the texts: closed when the answer is out."""
    async with request.form(max_files=20, max_fields=MOST_FIELDS) as form:
        sent = form.multi_items()
        request.state.texts = {name: one for name, one in sent if isinstance(one, str)}
        yield [(name, one) for name, one in sent if isinstance(one, UploadFile) and one.filename]


Uploaded = Annotated[list[tuple[str, UploadFile]], Depends(_uploaded)]


def _rig(bench: Workbench, rig_id: int) -> Rig:
    return bench.rigs_in_hand((rig_id,))[0][1]


@router.get("/bench/{rig_id}/frames")
def show_frames(request: Request, bench: ReadingBench, rig_id: Number) -> Response:
    """Which frames to take of a rig, and what was measured before."""
    return render_page(request, _frames_page(request, bench, rig_id, {}, {}))


def _frames_page(
    request: Request, bench: Workbench, rig_id: int, typed: Mapping[str, str], errors: Mapping[str, str]
) -> FramesPage:
    rig = _rig(bench, rig_id)
    plan = frame_plan(rig)
    items = [item for place in rig.train for item in (place.item, *place.inside)]
    lacking = tuple(
        (words, form_for(words, items, bench.observer.id, rig_id))
        for words in asked_of((*plan.missing, *plan.no_obstruction))
    )
    sets = frame_sets_of(request)
    kept = keep_frames.measured_of_rig(bench.store, bench.observer, rig_id)
    allowed = str(sets.allowed or "")
    begun = tuple(
        (token, ", ".join(one.name for one in draft.files) or "no frames yet")
        for token, draft in sets.begun(bench.observer.id)
        if draft.rig_id == rig_id
    )
    return FramesPage(rig_id, rig.name, plan, lacking, kept, allowed, sets.megabytes, begun, typed, errors)


@router.post("/frames/hand-in/{rig_id}")
def hand_in(request: Request, bench: ReadingBench, rig_id: Number, files: Uploaded) -> Response:
    """Take frames in, by upload or from the allowed folder, and show what they are."""
    rig = _rig(bench, rig_id)
    sets, texts = frame_sets_of(request), request.state.texts
    folder = str(texts.get("folder", ""))[:1000].strip()
    if not files and not folder:
        page = _frames_page(request, bench, rig_id, texts, {"files": "Choose the frames first."})
        return render_page(request, page, 422)
    token = str(texts.get("set", ""))[:40]
    draft: SetDraft | None = None
    fresh = not token
    try:
        if fresh:
            token = sets.begin(bench.observer.id, rig_id)
        draft = _own(sets, bench, token, rig_id)
        for _, file in files:
            draft = sets.add_file(token, draft, file.filename or "", file.file)
        if folder:
            draft = sets.add_named(token, draft, folder)
    except FieldErrors as error:
        if fresh:
            sets.drop(token)
            return render_page(request, _frames_page(request, bench, rig_id, texts, error.errors), 422)
        draft = sets.look(token)
        return _set_answer(request, bench, rig, rig_id, token, draft, {}, error.errors)
    sets.look(token)
    return go_to(request, URLS.frame_set(rig_id, token))


def _own(sets: FrameSets, bench: Workbench, token: str, rig_id: int) -> SetDraft:
    draft = sets.draft(token, bench.observer.id)
    if draft.rig_id != rig_id:
        raise RefusedError("These frames were handed in for another rig.")
    return draft


@router.get("/bench/{rig_id}/frames/set/{token}")
def show_set(
    request: Request, bench: HeavyBench, rig_id: Number, token: str, again: bool = False
) -> Response:
    """A set on its way: its files, how far it is, in the end what it says; again: its form."""
    sets, rig = frame_sets_of(request), _rig(bench, rig_id)
    draft = _own(sets, bench, token, rig_id)
    done = sets.done(token)
    if done is not None and not again:
        if wants_block(request):
            answer = Response(status_code=204)
            answer.headers["HX-Redirect"] = URLS.frame_set(rig_id, token)
            return answer
        kept = keep_frames.measured_of_rig(bench.store, bench.observer, rig_id)
        view = view_frames(rig, done, kept)
        page = measured_page(rig_id, rig.name, view, kept, _entries(bench, rig_id), token=token)
        return render_page(request, page)
    return _set_answer(request, bench, rig, rig_id, token, draft, {}, {})


def _set_answer(
    request: Request,
    bench: Workbench,
    rig: Rig,
    rig_id: int,
    token: str,
    draft: SetDraft,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
) -> Response:
    sets, plan = frame_sets_of(request), frame_plan(rig)
    kept = keep_frames.measured_of_rig(bench.store, bench.observer, rig_id)
    before = next((one.measured for one in kept if one.measured.step_um is not None), None)
    shown = {**usual_texts(plan, draft.files, before), **draft.typed, **typed}
    page = set_page(
        rig_id, rig.name, token, draft, plan, sets.stage(token), sets.failed(token), shown, errors
    )
    if wants_block(request):
        return render_block(request, page, "way", 422 if errors else 200)
    return render_page(request, page, 422 if errors else 200)


@router.post("/bench/{rig_id}/frames/set/{token}")
def change_set(request: Request, bench: ReadingBench, rig_id: Number, token: str, typed: Typed) -> Response:
    """Measure a set, stop that, take what its files say into the form, or drop it."""
    sets, rig = frame_sets_of(request), _rig(bench, rig_id)
    draft = _own(sets, bench, token, rig_id)
    do = typed.pop("do", "measure")
    texts = {name[:40]: text[:LONGEST] for name, text in list(typed.items())[:MOST_FIELDS]}
    if do == "drop":
        sets.drop(token)
        return go_to(request, URLS.frames(rig_id))
    if do == "stop":
        sets.stop(token)
        return go_to(request, URLS.frame_set(rig_id, token))
    if do == "headers":
        return _set_answer(
            request, bench, rig, rig_id, token, draft, {**texts, **header_texts(draft.files)}, {}
        )
    if sets.stage(token)[0] in ("waiting", "measuring"):
        return go_to(request, URLS.frame_set(rig_id, token))
    plan = frame_plan(rig)
    read = read_set(texts, draft.files, plan)
    if read.asked is None:
        return _set_answer(request, bench, rig, rig_id, token, draft, texts, read.errors)
    sets.start(token, draft.model_copy(update={"typed": texts}), read.asked)
    return go_to(request, URLS.frame_set(rig_id, token))


@router.post("/bench/{rig_id}/frames/set/{token}/keep")
def keep_set(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    token: str,
    name: Annotated[str, Form(max_length=LONGEST)] = "",
    entry: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Keep what a set says; its files are dropped."""
    sets = frame_sets_of(request)
    _own(sets, bench, token, rig_id)
    done = sets.done(token)
    if done is None:
        return go_to(request, URLS.frame_set(rig_id, token))
    entry_id = int(entry) if entry.isascii() and entry.isdigit() else None
    called = " ".join(name.split())[:80] or f"{done.made_at:%Y-%m-%d %H:%M}"
    kept = keep_frames.keep_measured(bench.store, bench.observer, rig_id, called, done, entry_id)
    sets.drop(token)
    return go_to(request, URLS.measured(kept.id))


def _entries(bench: Workbench, rig_id: int) -> tuple[EntryName, ...]:
    return tuple(one for one in bench.entry_names() if one.rig_id == rig_id)


@router.get("/frames/compare")
def compare_measured(
    request: Request,
    bench: HeavyBench,
    before: Annotated[int, Query(ge=1, le=2**53)],
    after: Annotated[int, Query(ge=1, le=2**53)],
) -> Response:
    """Two measurements of one rig: what was gained."""
    one, two = (keep_frames.own_measured(bench.store, bench.observer, n) for n in (before, after))
    if one.rig_id != two.rig_id:
        raise RefusedError("These measurements are of two rigs: compare those of one.")
    rig = _rig(bench, one.rig_id)
    return render_page(request, compare_page(one.rig_id, rig.name, one, two, bench.observer.units))


@router.get("/frames/{measured_id}")
def show_measured(request: Request, bench: HeavyBench, measured_id: Number) -> Response:
    """A kept measurement."""
    return _measured_answer(request, bench, measured_id, None, {})


def _measured_answer(
    request: Request,
    bench: Workbench,
    measured_id: int,
    typed: Mapping[str, str] | None,
    errors: Mapping[str, str],
) -> Response:
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    rig = _rig(bench, stored.rig_id)
    kept = keep_frames.measured_of_rig(bench.store, bench.observer, stored.rig_id)
    view = view_frames(rig, stored.measured, kept, stored.id)
    shown = {**screw_texts(stored.measured.screws), **(typed or {})}
    page = measured_page(
        stored.rig_id,
        rig.name,
        view,
        kept,
        _entries(bench, stored.rig_id),
        stored=stored,
        typed=shown,
        errors=errors,
    )
    return render_page(request, page, 422 if errors else 200)


@router.post("/frames/{measured_id}/screws")
def say_screws(request: Request, bench: WritingBench, measured_id: Number, typed: Typed) -> Response:
    """Say where the screws stand."""
    texts = {name: text[:LONGEST] for name, text in typed.items()}
    try:
        keep_frames.set_screws(bench.store, bench.observer, measured_id, read_screws(texts))
    except FieldErrors as error:
        return _measured_answer(request, bench, measured_id, texts, error.errors)
    return go_to(request, f"{URLS.measured(measured_id)}#finding-frames-tilt")


@router.post("/frames/{measured_id}/turn")
def say_turn(request: Request, bench: WritingBench, measured_id: Number, typed: Typed) -> Response:
    """Say which screw was moved since an earlier measurement: how the picture lies follows."""
    texts = {name: text[:LONGEST] for name, text in typed.items()}
    before = texts.get("before", "")
    try:
        number, out_um = read_turn(texts)
        if not (before.isascii() and before.isdigit() and len(before) < 16):
            raise FieldErrors({"before": "Choose the measurement before the turn."})
        keep_frames.tell_turn(bench.store, bench.observer, measured_id, int(before), number, out_um)
    except FieldErrors as error:
        return _measured_answer(request, bench, measured_id, texts, error.errors)
    return go_to(request, f"{URLS.measured(measured_id)}#screws")


@router.post("/frames/{measured_id}/seeing")
def use_seeing(request: Request, bench: WritingBench, measured_id: Number) -> Response:
    """Put the measured seeing into the rig's rules; undo takes it back."""
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    view = view_frames(_rig(bench, stored.rig_id), stored.measured, (), stored.id)
    if view.air is None:
        raise RefusedError("These frames tell no seeing.")
    rig = bench.bench(stored.rig_id).stored
    rules = rig.plan.rules.model_copy(update={"seeing_arcsec": round(view.air.seeing_arcsec, 1)})
    bench.change_rig(stored.rig_id, rig.version, SetRules(rules=rules))
    return go_to(request, URLS.measured(measured_id))


@router.post("/frames/{measured_id}/field")
def use_field(request: Request, bench: WritingBench, measured_id: Number) -> Response:
    """Draw the rig's stars by the field that was measured; undo takes it back."""
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    rig = bench.bench(stored.rig_id).stored
    seen = keep_frames.field_seen(stored.measured)
    if seen is None:
        raise RefusedError("These frames tell no field.")
    bench.change_rig(stored.rig_id, rig.version, SetSeen(seen=seen))
    return go_to(request, URLS.measured(measured_id))


@router.post("/frames/{measured_id}/remove")
def remove_measured(request: Request, bench: WritingBench, measured_id: Number) -> Response:
    """Remove a measurement."""
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    keep_frames.remove_measured(bench.store, bench.observer, measured_id)
    return go_to(request, URLS.frames(stored.rig_id))


@router.get("/frames/{measured_id}/stars.csv")
def download_stars(bench: ReadingBench, measured_id: Number) -> Response:
    """The stars of a measurement, as CSV."""
    stored = keep_frames.own_measured(bench.store, bench.observer, measured_id)
    return Response(
        star_csv(stored.measured),
        media_type="text/csv",
        headers={"Content-Disposition": f'attachment; filename="stars-{measured_id}.csv"'},
    )
