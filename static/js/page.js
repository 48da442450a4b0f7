// What every page can do beside its forms: say when no answer comes, copy an address.

const SILENT =
  "Trainwright does not answer, so nothing was changed. Is it still running? Start it again, then load this page again.";

/** Sets the page's own notice line; "" clears it. */
function say(sentence) {
  const notice = document.getElementById("notice");
  if (!notice) return;
  notice.replaceChildren();
  delete notice.dataset.silent;
  if (!sentence) return;
  const box = document.createElement("div");
  box.className = "notice stop";
  const words = document.createElement("p");
  words.textContent = sentence;
  const again = document.createElement("a");
  again.href = "";
  again.textContent = "Load this page again";
  const line = document.createElement("p");
  line.append(again);
  box.append(words, line);
  notice.append(box);
  notice.dataset.silent = "1";
}

document.addEventListener("htmx:error", (event) => {
  // Only a request that never got its answer: an answer that says no is shown by the page itself.
  const ctx = event.detail?.ctx;
  if (ctx && !ctx.response) say(SILENT);
});

document.addEventListener("htmx:before:swap", () => {
  if (document.getElementById("notice")?.dataset.silent) say("");
});

/** What is folded away is fetched when it is opened, not when a list of such is: its link leads to the same on a page
 * of its own. */
document.addEventListener(
  "toggle",
  (event) => {
    const link = event.target.open && event.target.querySelector("a[data-fetch]");
    if (link && link.closest("details") === event.target) htmx.ajax("GET", link.href, { source: link, target: link.parentElement, swap: "outerHTML" });
  },
  true,
);

/** Without a script, or where the browser lends no clipboard, the address stands in its field to be selected. */
for (const button of document.querySelectorAll("[data-copy]")) {
  const field = document.getElementById(button.dataset.copy);
  if (!field || !navigator.clipboard) continue;
  button.hidden = false;
  button.addEventListener("click", async () => {
    field.select();
    const status = document.getElementById("status");
    try {
      await navigator.clipboard.writeText(field.value);
      button.textContent = "Copied";
      status.textContent = "The address is on the clipboard.";
    } catch {
      status.textContent = "The browser did not allow it: the address is selected, copy it by hand.";
    }
  });
}
