// Turns the sky behind the sensor while a slider is moved, and lets the line of a site's horizon be pushed. Both have a
// field that says the same: this script only writes into it.

const turnable = () => {
  const label = document.querySelector(".sky-turn");
  const figure = document.querySelector(".sky-picture");
  const sky = figure?.querySelector(".turning");
  const field = document.getElementById("wish-angle_deg");
  if (!label || !sky || !field || label.dataset.ready) return;
  label.dataset.ready = "1";
  label.hidden = false;
  const slider = label.querySelector("input");
  const told = label.querySelector("output");
  const middle = sky.getAttribute("transform").match(/rotate\(\S+ (\S+) (\S+)\)/);
  const turn = (degrees) => {
    sky.setAttribute("transform", `rotate(${degrees} ${middle[1]} ${middle[2]})`);
    told.textContent = `${degrees}°`;
    for (const name of figure.querySelectorAll(".turning-name")) name.remove();
  };
  slider.addEventListener("input", () => turn(slider.value));
  slider.addEventListener("change", () => {
    field.value = `${slider.value}°`;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
  const svg = figure.querySelector("svg");
  const towards = (event) => {
    const box = svg.getBoundingClientRect();
    return (Math.atan2(event.clientX - box.x - box.width / 2, box.y + box.height / 2 - event.clientY) * 180) / Math.PI;
  };
  let from = null;
  svg.addEventListener("pointerdown", (event) => {
    from = towards(event) - Number(slider.value);
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (from === null) return;
    slider.value = String((Math.round(towards(event) - from) + 720) % 360);
    turn(slider.value);
  });
  svg.addEventListener("pointerup", () => {
    if (from === null) return;
    from = null;
    slider.dispatchEvent(new Event("change"));
  });
};

const horizon = () => {
  const figure = document.querySelector("[data-horizon]");
  const field = figure && document.getElementById(figure.dataset.horizon);
  if (!field) return;
  const svg = figure.querySelector("svg");
  const [left, top, wide, high] = [30, 8, 442, 118];
  figure.querySelector("figcaption").hidden = false;
  const points = () => {
    const lines = field.value.split("\n").map((line) => line.split(/[:;\t]/).map(Number.parseFloat));
    if (lines.length === 1 && lines[0].length === 1) return new Map([[0, lines[0][0]]]);
    return new Map(lines.filter((line) => line.every(Number.isFinite) && line.length === 2).map(([a, b]) => [a % 360, b]));
  };
  const draw = () => {
    const held = [...points()].sort((a, b) => a[0] - b[0]).filter(([, alt]) => Number.isFinite(alt));
    if (!held.length) return;
    const [first, last] = [held[0], held.at(-1)];
    const north = last[1] + ((first[1] - last[1]) * (360 - last[0])) / (360 - last[0] + first[0]);
    const all = [[0, north], ...held, [360, north]];
    const placed = all.map(([az, alt]) => `${left + (az / 360) * wide},${top + high - (Math.max(0, alt) / 90) * high}`);
    svg.querySelector(".ground-line").setAttribute("points", placed.join(" "));
    svg.querySelector(".ground").setAttribute("points", `${left},${top + high} ${placed.join(" ")} ${left + wide},${top + high}`);
  };
  const push = (event) => {
    const box = svg.getBoundingClientRect();
    const x = ((event.clientX - box.x) / box.width) * 480;
    const y = ((event.clientY - box.y) / box.height) * 150;
    const azimuth = (Math.round(Math.min(1, Math.max(0, (x - left) / wide)) * 24) * 15) % 360;
    const altitude = Math.round(Math.min(89, Math.max(0, ((top + high - y) / high) * 90)));
    const held = points();
    held.set(azimuth, altitude);
    field.value = [...held].sort((a, b) => a[0] - b[0]).map(([az, alt]) => `${az}: ${alt}`).join("\n");
    draw();
  };
  let pushing = false;
  svg.addEventListener("pointerdown", (event) => {
    pushing = true;
    svg.setPointerCapture(event.pointerId);
    push(event);
  });
  svg.addEventListener("pointermove", (event) => pushing && push(event));
  svg.addEventListener("pointerup", () => (pushing = false));
  field.addEventListener("input", draw);
};

turnable();
horizon();
document.addEventListener("htmx:after:swap", turnable);
document.addEventListener("htmx:afterSwap", turnable);
