// The bench's hands: dragging parts in the run and from the tray, keys that move a part, and a tray that keeps to
// the rig's version. Everything here has a form that does the same without a script.

const room = document.querySelector(".bench-room");
const sortable = new WeakSet(); // A morph may keep an element and strip its attributes; this knows it again.

/** Whether the page has room for the narrow section alone. */
function narrow() {
  return document.querySelector(".section-card").clientWidth < 42 * 16;
}

function version() {
  return document.getElementById("bench").dataset.version;
}

/** Post one change and let the answer take the bench's place. */
function change(values) {
  return htmx.ajax("POST", room.dataset.change, {
    source: "#hand",
    target: "#bench",
    swap: "outerMorph",
    values: { version: version(), ...values },
  });
}

/** The run can be sorted, except its tube and its camera; the tray lends copies of its parts. */
function makeSortable() {
  const run = document.getElementById("run");
  const shared = { handle: undefined, animation: 120, forceFallback: true, fallbackTolerance: 4 };
  if (run && !sortable.has(run)) {
    sortable.add(run);
    Sortable.create(run, {
      ...shared,
      group: { name: "train", put: ["tray"] },
      handle: ".handle",
      draggable: ".place",
      filter: ".fixed",
      preventOnFilter: false,
      onMove: (event) => !(event.related.classList.contains("fixed") && stepsOver(event)),
      onUpdate: (event) => change({ verb: "move", place: event.item.dataset.key, to: event.newDraggableIndex }),
      onAdd: (event) => {
        const { part, beside } = event.item.dataset;
        const at = [...run.children].indexOf(event.item);
        event.item.remove();
        change(beside ? { verb: "gear", part_id: part } : { verb: "add", part_id: part, at });
      },
    });
  }
  for (const list of document.querySelectorAll(".tray-list")) {
    if (sortable.has(list)) continue;
    sortable.add(list);
    Sortable.create(list, {
      ...shared,
      group: { name: "tray", pull: "clone", put: false },
      sort: false,
      filter: "button, a, input, select",
      preventOnFilter: false,
      delay: 150,
      delayOnTouchOnly: true,
    });
  }
}

/** Nothing goes before the tube or behind the camera. */
function stepsOver(event) {
  const related = event.related;
  const isTube = related.classList.contains("kind-optical_tube");
  return isTube ? !event.willInsertAfter : event.willInsertAfter;
}

/** Alt with an arrow moves the part that has the focus; the focus stays on it. */
document.addEventListener("keydown", (event) => {
  if (!event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
  const place = event.target.closest?.(".place");
  const button = place?.querySelector(event.key === "ArrowUp" ? ".act-up" : ".act-down");
  if (!button || button.disabled) return;
  event.preventDefault();
  button.focus();
  button.click();
});

// What a swap would lose: where the focus was, what was folded open, a form of rules that was refused.
const before = { focus: "", steps: [], open: new Set(), rules: null, keys: new Set() };
let asking = false; // Whether the request under way asks for the tray of one joint or place.
let opener = ""; // Id of the link that opened the tray there.
let back = ""; // The same, once what the tray was opened for is done.

/** The steps to take the focus to when a button has gone with its row: the same button in the row after it, in the
 * row before it, and the heading above; after a remedy, how the rig stands now; after a figure, what else would
 * settle more. */
function stepsFrom(button) {
  if (button.closest("#settle")) return ["settle-title", "answer"];
  const row = button.closest("#run > .place, #gear > li, .inside li");
  if (!row) return button.closest("#answer, .finding") ? ["answer"] : button.closest("#settle") ? ["settle-title", "answer"] : [];
  const list = row.parentElement;
  const kind = button.id.replace(/[0-9-]+$/, "");
  const twin = (one) => one?.querySelector(`[id^="${kind}-"]`)?.id;
  const above = list.id.startsWith("inside-")
    ? list.id.replace("inside", "fill")
    : list.id === "gear"
      ? "beside-title"
      : "run-title";
  return [twin(row.nextElementSibling), twin(row.previousElementSibling), above].filter(Boolean);
}

/** A finding whose weight turns gets another id, and may become a line that opens or the answer; its title stays. */
function detailsKey(details) {
  const title = details.closest(".finding")?.querySelector("h2, h3, .line-title").textContent;
  return title ?? (details.id || details.querySelector("summary").textContent);
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.('a[data-hx-target="#tray"]');
  if (link) opener = link.closest("#bench") ? link.id : "";
});

/** What was found before a change is told with it, so that the answer can say what turned by it; and which of the
 * section's two sizes is seen: the answer draws that one. */
document.addEventListener("htmx:config:request", (event) => {
  const { request } = event.detail.ctx;
  const { stood } = document.getElementById("bench").dataset;
  if (request.method !== "POST") return;
  if (stood) request.headers["Trainwright-Stood"] = stood;
  request.headers["Trainwright-Drawn"] = narrow() ? "narrow" : "wide";
});

document.addEventListener("htmx:before:request", (event) => {
  const source = event.detail?.ctx?.sourceElement;
  asking = Boolean(source?.matches?.('a[data-hx-target="#tray"]'));
});

document.addEventListener("htmx:before:swap", (event) => {
  const focused = document.activeElement;
  const inside = focused && room.contains(focused);
  before.focus = inside ? focused.id : "";
  before.steps = inside ? stepsFrom(focused) : [];
  before.open = new Set([...document.querySelectorAll("#bench details[open]")].map(detailsKey));
  before.keys = new Set([...document.querySelectorAll("#run > .place")].map((place) => place.dataset.key));
  const rules = document.getElementById("rules");
  const own = rules.contains(event.detail?.ctx?.sourceElement);
  // A copy of a form keeps what is typed in it.
  before.rules = !own && rules.querySelector(".has-error") ? rules.cloneNode(true) : null;
});

document.addEventListener("htmx:after:swap", () => {
  const bench = document.getElementById("bench");
  if (before.rules) {
    document.getElementById("rules").replaceWith(before.rules);
    before.rules = null;
    htmx.process(document.getElementById("rules"));
  }
  for (const details of bench.querySelectorAll("details")) {
    if (before.open.has(detailsKey(details))) details.open = true;
  }
  for (const input of document.querySelectorAll("#rules input[name=version]")) {
    input.value = bench.dataset.version;
  }
  countPieces();
  keepFocus();
  makeSortable();
});

/** The tray says of each part how many of it are in the rig; the bench's answer brings the words. */
function countPieces() {
  for (const part of document.querySelectorAll(".tray .tray-item")) {
    const words = document.querySelector(`#pieces > [data-part="${part.dataset.part}"]`);
    part.querySelector(".tray-note").textContent = words ? words.textContent : "";
  }
}

function keepFocus() {
  if (asking) {
    // The tray that was asked for: on a phone it lies below everything else.
    asking = false;
    const title = document.getElementById("tray-title");
    if (!title) return document.getElementById("open-tray").focus(); // It was closed.
    title.focus({ preventScroll: true });
    const top = title.getBoundingClientRect().top;
    if (top < 0 || top > window.innerHeight / 2) title.scrollIntoView({ block: "start" });
    return;
  }
  const came = [...document.querySelectorAll("#run > .place")].find((place) => !before.keys.has(place.dataset.key));
  if (back) {
    // To the joint above the part that came in, where the work goes on; or to where the tray was asked for.
    (document.getElementById(came ? `add-${came.dataset.key}` : back) ?? document.getElementById(back))?.focus();
    back = "";
    return;
  }
  const wanted = before.focus && document.getElementById(before.focus);
  if (wanted) {
    // A button that was just disabled is still called the active one, and loses the focus a moment later.
    if (wanted.disabled || document.activeElement !== wanted) {
      // A button at the end of its way is disabled: its twin keeps the focus on the part.
      const place = wanted.closest(".place");
      (wanted.disabled ? place?.querySelector(".act:not([disabled])") : wanted)?.focus();
    }
    return;
  }
  if (document.activeElement === document.body) before.steps.map((id) => document.getElementById(id)).find(Boolean)?.focus();
}

/** A tray that was meant for one joint is done once the change is made. */
document.addEventListener("htmx:after:request", (event) => {
  const { request, response } = event.detail?.ctx ?? {};
  if (request?.method !== "POST" || response?.status >= 400) return;
  if (document.getElementById("tray").dataset.meant) {
    back = opener;
    opener = "";
    htmx.ajax("GET", room.dataset.plainTray, { source: "#hand", target: "#tray", swap: "outerMorph" });
  }
});

makeSortable();
