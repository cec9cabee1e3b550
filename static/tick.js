// Blanks that are ticked on the rack stay ticked when it renews itself; how many there are is said beside the buttons.
// On the glue-up page one tap ticks all that await it.
"use strict";

{
  let kept = [];
  const boxes = () => [...document.querySelectorAll('input[form="together"]')];

  const tell = () => {
    const bar = document.getElementById("together");
    const count = document.getElementById("together-count");
    if (!bar || !count) return;
    const ticked = boxes().filter((one) => one.checked).length;
    bar.dataset.any = ticked ? "yes" : "";
    count.textContent = ticked ? `${ticked} ticked` : "";
  };

  document.addEventListener("htmx:beforeSwap", () => {
    kept = boxes().filter((one) => one.checked).map((one) => one.value);
  });
  document.addEventListener("htmx:afterSettle", () => {
    for (const one of boxes()) one.checked = kept.includes(one.value);
    tell();
  });
  document.addEventListener("change", tell);
  document.addEventListener("reset", () => setTimeout(tell));
  addEventListener("pageshow", tell);

  const offer = () => {
    for (const button of document.querySelectorAll("[data-tick-all]")) {
      button.hidden = false;
      button.addEventListener("click", () => {
        for (const one of button.closest("fieldset").querySelectorAll('input[type="checkbox"]')) one.checked = true;
      });
    }
  };
  offer();
  document.addEventListener("main:new", offer);
}
