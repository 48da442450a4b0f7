// The bench's hands: dragging parts in the run and from the tray, keys that move a part, and a tray that keeps to
// the rig's version. Everything here has a form that does the same without a script.

const room = document.querySelector(".bench-room");
const sortable = new WeakSet(); // A morph may keep an element and strip its attributes; this knows it again.

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
        change(beside ? { verb: "gear", part_id: part, quantity: 1 } : { verb: "add", part_id: part, at });
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

document.addEventListener("htmx:before:swap", () => {
  const focused = document.activeElement;
  room.dataset.focus = focused && room.contains(focused) ? focused.id : "";
});

document.addEventListener("htmx:after:swap", () => {
  const bench = document.getElementById("bench");
  const tray = document.getElementById("tray");
  for (const input of tray.querySelectorAll("input[name=version]")) input.value = bench.dataset.version;
  const wanted = room.dataset.focus && document.getElementById(room.dataset.focus);
  // A button that was just disabled is still called the active one, and loses the focus a moment later.
  if (wanted && (wanted.disabled || document.activeElement !== wanted)) {
    // A button at the end of its way is disabled: its twin keeps the focus on the part.
    const place = wanted.closest(".place");
    (wanted.disabled ? place?.querySelector(".act:not([disabled])") : wanted)?.focus();
  }
  makeSortable();
});

/** A tray that was meant for one joint is done once the change is made. */
document.addEventListener("htmx:after:request", (event) => {
  const request = event.detail?.ctx?.request;
  if (request?.method !== "POST") return;
  if (document.getElementById("tray").dataset.meant) {
    htmx.ajax("GET", room.dataset.plainTray, { source: "#hand", target: "#tray", swap: "outerMorph" });
  }
});

makeSortable();
