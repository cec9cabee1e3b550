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

// The page that is open comes as it is now, in the place of what it was, without being loaded again: scripts and clocks
// run on, what stood on the screen does not flash. Gives whether it came; a page says by data-soft that it may.
async function bringIn(to) {
  const main = document.querySelector("main[data-soft]");
  if (!main) return false;
  try {
    const answer = await fetch(to, { headers: { accept: "text/html" }, signal: AbortSignal.timeout?.(20_000) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("main[data-soft]");
    if (!answer.ok || !fresh || new URL(answer.url).pathname !== location.pathname) return false;
    history.replaceState(null, "", to);
    document.title = page.title;
    main.replaceChildren(...[...fresh.childNodes].map((one) => document.adoptNode(one)));
    window.htmx?.process(main);
    const at = to.hash && document.getElementById(to.hash.slice(1));
    window.scrollTo(0, 0);
    if (at && at.getBoundingClientRect().bottom > innerHeight) at.scrollIntoView();
    main.focus({ preventScroll: true });
    told.textContent = [...main.querySelectorAll("[role=status], .now__name")].slice(0, 2).map((one) => one.textContent.trim()).join(". ");
    document.dispatchEvent(new Event("main:new"));
    return true;
  } catch {
    return false;
  }
}

// Goes to an address, which may be the one that is open already: then that is loaded again.
async function loadAgain(address) {
  const to = new URL(address, location.href);
  if (to.pathname === location.pathname && await bringIn(to)) return;
  if (to.pathname + to.search !== location.pathname + location.search) {
    location.assign(to);
    return;
  }
  if (to.href !== location.href) history.replaceState(null, "", to);
  // The page is to come as it is now, not with what was chosen or typed on it before.
  for (const form of document.forms) form.setAttribute("autocomplete", "off");
  for (const field of document.querySelectorAll("input, select, textarea")) field.setAttribute("autocomplete", "off");
  history.scrollRestoration = to.hash ? "manual" : "auto";
  location.reload();
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

// A field that somebody types in is not put in again under their fingers: what is wrong with it is said when they leave.
document.addEventListener("htmx:oobBeforeSwap", (event) => {
  const at = document.activeElement;
  if (at?.matches("input, textarea") && event.detail.target.contains(at)) event.detail.shouldSwap = false;
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

// Who is at a place in a part that is renewed stays there with keyboard and screen reader. htmx finds the place by its
// id; else a link is known by where it leads, a field or button by its name or words. Where it is gone, the nearest part
// around it that is still there takes the focus.
const STOPS = "a[href], button:enabled, input:enabled:not([type=hidden]), select:enabled, textarea:enabled, summary, [tabindex='0']";
let left;

function known(at) {
  const words = at.matches("a, button, summary") ? at.textContent.trim() : "";
  return [at.tagName, at.getAttribute("href"), at.getAttribute("name"), at.matches("[type=radio], [type=checkbox]") && at.value, words];
}

document.addEventListener("htmx:beforeSwap", (event) => {
  const at = document.activeElement;
  left = undefined;
  if (!event.detail.target.contains(at) || at === document.body) return;
  const around = [];
  for (let part = at.parentElement; part; part = part.parentElement) if (part.id) around.push(part.id);
  left = { mark: known(at), around, part: event.detail.target.id };
});
document.addEventListener("htmx:afterSettle", () => {
  const lost = left && (!document.activeElement || document.activeElement === document.body);
  const around = lost ? left.around.map((id) => document.getElementById(id)).filter(Boolean) : [];
  if (around.length) {
    const alike = (count) => {
      for (const part of around) {
        const found = [...part.querySelectorAll(STOPS)].find((at) => known(at).slice(0, count).join("\n") === left.mark.slice(0, count).join("\n"));
        if (found) return found;
      }
      return null;
    };
    const [nearest] = around;
    let stop = alike(5) ?? (left.mark[1] || left.mark[2] ? alike(4) : null);
    if (!stop && nearest.id !== left.part) stop = nearest.querySelector(STOPS);
    if (!stop) {
      stop = nearest;
      stop.setAttribute("tabindex", "-1");
    }
    stop.focus({ preventScroll: true });
  }
  left = undefined;
});

// A part that says of itself that it is live is replaced as a whole, and a screen reader may not read what is put in
// like that. What it comes to is said in a place that stays: its heading or first words, and only when they change.
const told = document.createElement("div");
told.className = "unseen";
told.setAttribute("role", "status");
document.body.append(told);
document.addEventListener("htmx:afterSwap", (event) => {
  const part = event.target;
  if (!part.matches?.("[aria-live=polite]")) return;
  const first = part.querySelector("h2, h3, .notice, p");
  const words = part.dataset.told || (first?.textContent.trim().replace(/\s+/g, " ") ?? "");
  if (words !== told.textContent) told.textContent = words;
});

meetSummary(document);
