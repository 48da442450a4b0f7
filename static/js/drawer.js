// A tap on a ruler counts one more in the field below it. Without a script the server counts.

const MOST = 99;

document.addEventListener(
  "click",
  (event) => {
    const tap = event.target.closest("#drawer button[name=more]");
    const field = tap && document.getElementById(`f-${tap.value}`);
    if (!field || !/^\s*\d{0,2}\s*$/.test(field.value)) return;
    event.preventDefault();
    event.stopPropagation();
    field.value = String(Math.min(Number(field.value) + 1, MOST));
    document.getElementById("status").textContent = `${field.getAttribute("aria-label").replace("How many: ", "")}: ${field.value}`;
  },
  true,
);
