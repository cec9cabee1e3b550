// The little that every page does in the browser. Every form works without it.
"use strict";

const said = document.getElementById("said");

function say(text) {
  if (!said) return;
  said.replaceChildren();
  if (!text) return;
  const line = document.createElement("p");
  line.textContent = text;
  said.append(line);
}

// What is wrong with a form is read first, by eye and by screen reader.
function meetSummary(root) {
  const summary = root.querySelector?.("[data-summary]");
  if (summary) summary.focus();
}

// One tap is one entry: a form under way does not start again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented || form.hasAttribute("hx-post")) return;
  if (form.dataset.underWay) {
    event.preventDefault();
    return;
  }
  form.dataset.underWay = "yes";
  for (const button of form.querySelectorAll("button:not([type=button])")) button.setAttribute("aria-busy", "true");
});

// Coming back to a page that the browser kept: its forms may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-under-way]")) {
    delete form.dataset.underWay;
    for (const button of form.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
  }
});

document.addEventListener("htmx:afterSwap", (event) => {
  say("");
  meetSummary(event.detail.target);
});
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  if (status === 404) say("That is no longer here. Load the page again.");
  else if (status === 403) say("You may not do that here. Ask the shop's owner.");
  else say(`That did not work (answer ${status}). What you typed is still here.`);
});

// A part that renews itself keeps the reader's place: what stood first in the window stays where it stood.
let place;
document.addEventListener("htmx:beforeSwap", (event) => {
  const part = event.detail.target;
  place = undefined;
  if (!part.id || !part.hasAttribute("hx-trigger") || part.getBoundingClientRect().top > 0) return;
  for (const at of part.querySelectorAll("[id]")) {
    const { top } = at.getBoundingClientRect();
    if (top >= 0) {
      place = { id: at.id, top };
      return;
    }
  }
});
document.addEventListener("htmx:afterSettle", () => {
  const at = place && document.getElementById(place.id);
  if (at) window.scrollBy(0, at.getBoundingClientRect().top - place.top);
  place = undefined;
});

// A traveler scanned with a phone opens at the next hand movement, below the shop's head.
if (!location.hash && window.matchMedia("(max-width: 46rem)").matches && (!document.referrer || /\/sign-in/.test(document.referrer))) {
  document.getElementById("now")?.scrollIntoView();
}

meetSummary(document);
