// Sliders beside the fields of a star's wishes: each moves its field's number, and follows what is typed there. Without
// this script they would move nothing, so that it shows them.

for (const slider of document.querySelectorAll(".wish-slider")) {
  const field = document.getElementById(slider.dataset.for);
  if (!field) continue;
  slider.hidden = false;
  slider.addEventListener("input", () => {
    const unit = field.value.replace(/^[\s−+\-.,\d]*/, "");
    field.value = unit ? `${slider.value} ${unit}` : slider.value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  field.addEventListener("input", () => {
    const typed = Number.parseFloat(field.value.replace(",", ".").replace("−", "-"));
    if (Number.isFinite(typed)) slider.value = String(typed);
  });
}
