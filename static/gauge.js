// A measured size by thumb: plus and minus around the size that it should be, and at once whether it is within its
// limits; 'Just' writes the size down as it should be. Without it, or faster with a keyboard: the size is typed.
"use strict";

function gaugeByThumb() {
  const MM = 25.4;
  const gauge = document.querySelector("[data-gauge]");
  const field = gauge?.querySelector('input[name="value"]');
  if (!field) return;
  const inches = gauge.dataset.units === "inch";
  const [nominal, low, high] = ["nominal", "low", "high"].map((name) => (gauge.dataset[name] === "" ? null : Number(gauge.dataset[name])));
  const room = Math.max(nominal - (low ?? nominal), (high ?? nominal) - nominal) || 0.2;
  // About a fifth of what is allowed, as calipers are read: 0.01, 0.02, 0.05 or 0.1 mm; 0.001, 0.002 or 0.005 in.
  const steps = inches ? [0.001, 0.002, 0.005].map((step) => step * MM) : [0.01, 0.02, 0.05, 0.1];
  const step = steps.find((one) => one >= room / 5) ?? steps.at(-1);

  function shown(mm) {
    return inches ? `${(mm / MM).toFixed(3)}"` : `${mm.toFixed(2)} mm`;
  }

  // Decimals alone are read here; fractions and the rest are the shop's computer's to read.
  function typed() {
    const found = field.value.trim().match(/^(\d+(?:[.,]\d*)?|[.,]\d+)\s*(mm|in|"|)$/i);
    if (!found) return null;
    const number = Number(found[1].replace(",", "."));
    const unit = found[2].toLowerCase() || (inches ? "in" : "mm");
    return unit === "mm" ? number : number * MM;
  }

  function tell() {
    const mm = typed();
    words.className = "gauge__says";
    words.textContent = "";
    if (mm === null) return;
    const out = low !== null && mm < low - 0.005 ? low - mm : high !== null && mm > high + 0.005 ? mm - high : 0;
    words.classList.add(out ? "gauge__says--out" : "gauge__says--in");
    words.textContent = !out ? "within its limits" : `${shown(out)} ${mm < nominal ? "under" : "over"} its limit`;
  }

  function set(mm) {
    field.value = shown(Math.max(step, mm));
    tell();
  }

  function button(text, name, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", name);
    made.addEventListener("click", act);
    return made;
  }

  // The first touch of any of them starts from the size that it should be: nothing is written down unmeasured.
  const by = (sign) => () => set((typed() ?? nominal) + sign * step);
  const row = document.createElement("div");
  const words = document.createElement("p");
  row.className = "gauge__row";
  const line = field.closest(".field__line");
  line.before(row);
  row.append(button("\u2212", `${shown(step)} less`, by(-1)), line, button("+", `${shown(step)} more`, by(1)));
  // As the shop's computer writes it, so that it is read back as the very size that is meant.
  const just = gauge.dataset.just;
  const exact = button(`Just ${just}`, `Just ${just}`, () => {
    field.value = just;
    tell();
    field.form.requestSubmit(field.form.querySelector('button[value="passed"]'));
  });
  exact.className = "gauge__exact";
  row.append(exact);
  words.setAttribute("aria-live", "polite");
  row.after(words);
  field.addEventListener("input", tell);
  tell();
}

gaugeByThumb();
document.addEventListener("main:new", gaugeByThumb);
