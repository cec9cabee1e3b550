// An entry that the shop's computer has not answered is kept, shown, and sent again with the same key until it is
// answered; the key makes sure that it is carried out once (see Desk.remember). Passwords, codes and files are never
// kept. Without this script forms are sent by the browser alone.
"use strict";

(() => {
  const WHO = document.querySelector('meta[name="person"]')?.content;
  const SHELF = "unsaved:";
  const PATIENCE = 20_000; // ms without an answer
  const PAUSES = [1500, 3000, 6000, 12_000]; // ms between tries; the last one again and again
  const BY_ITSELF = 12 * 3600_000; // ms: what is older is sent only when someone says so
  const BUSY = [502, 503, 504, 507]; // nothing was carried out: the same as no answer
  const asleep = new Map(); // once -> { form, submitter }: entries whose form is on this page
  const waiting = new Map(); // once -> form: entries of this page that wait for the connection, their form free again
  let pause = 0;
  let timer;
  let strip;
  let away = "";
  let trouble = ""; // what ails the shop's computer, where it says so itself
  let running = false;
  let again = false;

  const shelf = {
    all() {
      const found = [];
      try {
        for (const name of Object.keys(localStorage)) {
          if (name.startsWith(SHELF)) found.push(JSON.parse(localStorage.getItem(name)));
        }
      } catch { /* storage is switched off: entries then live as long as their page */ }
      for (const [once, { entry }] of asleep) if (!found.some((one) => one.once === once)) found.push(entry);
      return found.filter((one) => one.who === WHO).sort((a, b) => a.at - b.at);
    },
    put(entry) {
      try { localStorage.setItem(SHELF + entry.once, JSON.stringify(entry)); } catch { /* as above */ }
    },
    drop(entry) {
      asleep.delete(entry.once);
      waiting.delete(entry.once);
      try { localStorage.removeItem(SHELF + entry.once); } catch { /* as above */ }
    },
  };

  function keeps(form) {
    const action = new URL(form.getAttribute("action") || location.href, location.href);
    return WHO && form.getAttribute("method")?.toLowerCase() === "post" && !form.hasAttribute("hx-post")
      && !form.target && form.dataset.plain === undefined && action.origin === location.origin
      && !/^\/(sign-in|sign-out|first-run)/.test(action.pathname) && form.querySelector('input[name="once"]')?.value
      && !form.querySelector('input[type="file"], input[type="password"], input[autocomplete="one-time-code"]');
  }

  function wordsOf(form) {
    const head = document.querySelector("h1")?.firstChild?.textContent.trim();
    const part = (form.querySelector("h2, h3") ?? form.closest("section")?.querySelector("h2"))?.textContent.trim();
    return [head, part].filter(Boolean).join(", ") || "an entry";
  }

  function entryOf(form, submitter) {
    const fields = [...new FormData(form)].filter(([, value]) => typeof value === "string");
    if (submitter?.name) fields.push([submitter.name, submitter.value]);
    const to = submitter?.getAttribute("formaction") || form.getAttribute("action") || location.pathname;
    const once = form.querySelector('input[name="once"]').value;
    return { once, who: WHO, to, page: location.pathname, words: wordsOf(form), fields, at: Date.now() };
  }

  async function post(entry) {
    trouble = "";
    const answer = await fetch(entry.to, {
      method: "POST",
      body: new URLSearchParams(entry.fields),
      headers: { "X-Kept-Form": "1" },
      signal: AbortSignal.timeout?.(PATIENCE),
    });
    if (BUSY.includes(answer.status)) {
      trouble = answer.headers.get("X-Trouble") ?? "";
      throw new Error("busy");
    }
    return { goTo: answer.headers.get("X-Go-To"), page: answer.headers.get("X-Go-To") ? "" : await answer.text() };
  }

  // A key of its own for what is written next on a form: the same one twice would count once.
  function renewKey(form) {
    const once = form.querySelector('input[name="once"]');
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    if (once) once.value = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // Nobody answers: what was written waits by itself, and its form takes the next entry.
  function setFree() {
    for (const [once, { form, entry }] of asleep) {
      waiting.set(once, form);
      asleep.delete(once);
      wake(form);
      // What waits leaves its fields; what was typed since stays.
      for (const [name, value] of entry.fields) {
        const field = form.elements.namedItem(name);
        if (field?.matches?.("input:not([type=hidden], [type=checkbox], [type=radio]), textarea") && field.value === value) field.value = field.defaultValue;
      }
      renewKey(form);
    }
  }

  function wake(form) {
    delete form.dataset.underWay;
    for (const button of form.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
  }

  // One entry is sent; gives the address to go to where it was carried out, "" where it was not.
  async function send(entry) {
    const here = asleep.get(entry.once);
    const answer = await post(entry);
    if (answer.goTo?.startsWith("/sign-in")) {
      entry.state = "signed out";
      shelf.put(entry);
      return "";
    }
    if (answer.goTo) {
      shelf.drop(entry);
      return answer.goTo;
    }
    if (here) {
      // Something is wrong with it: the browser itself sends it once more and shows the page that says so.
      asleep.delete(entry.once);
      shelf.put({ ...entry, state: "looked at" });
      wake(here.form);
      here.form.dataset.plain = "";
      here.form.requestSubmit(here.submitter);
      return "";
    }
    const page = new DOMParser().parseFromString(answer.page, "text/html");
    const wrong = page.querySelectorAll("[data-summary] li");
    entry.state = "refused";
    entry.why = [...(wrong.length ? wrong : page.querySelectorAll("main p"))].slice(0, 2).map((one) => one.textContent.trim()).join(" ");
    shelf.put(entry);
    return "";
  }

  async function sendAll(fresh = false) {
    clearTimeout(timer);
    if (running) {
      again = true;
      return;
    }
    running = true;
    let goTo = "";
    let saved = null;
    try {
      for (const entry of shelf.all().filter((one) => !one.state)) {
        const here = asleep.get(entry.once);
        const mine = here ? !busyElsewhere(here.form)
          : waiting.has(entry.once) ? !typing() : fresh && entry.page === location.pathname;
        const address = await send(entry);
        if (address && mine) goTo = address;
        else if (address) saved = { ...entry, address };
      }
      pause = 0;
      away = "";
    } catch {
      away ||= clock();
      if (kept()) setFree();
      timer = setTimeout(() => sendAll(), PAUSES[Math.min(pause++, PAUSES.length - 1)]);
    }
    running = false;
    if (goTo && !shelf.all().some((one) => asleep.has(one.once))) loadAgain(goTo);
    else show(saved);
    if (again) {
      again = false;
      sendAll();
    }
  }

  // Whether someone has gone on typing in another form meanwhile: the page is then not taken away from under them.
  function busyElsewhere(form) {
    return away && typing() && document.activeElement.form !== form;
  }

  function typing() {
    return document.activeElement?.matches("input, textarea, select") ?? false;
  }

  // Whether entries outlive their page: without that they stay with their form.
  function kept() {
    return [...asleep.keys()].every((once) => { try { return localStorage.getItem(SHELF + once) !== null; } catch { return false; } });
  }

  function clock() {
    return new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  }

  function make(tag, words, set = {}) {
    const made = Object.assign(document.createElement(tag), set);
    made.textContent = words;
    return made;
  }

  function button(words, act) {
    const made = make("button", words, { type: "button" });
    made.addEventListener("click", act);
    return made;
  }

  function throwAway(entries) {
    for (const entry of entries) {
      const form = asleep.get(entry.once)?.form;
      shelf.drop(entry);
      if (form) wake(form);
    }
    show();
  }

  // Sent once more for its answer; where that is a page again, the browser itself goes there to show it. The entry stays
  // until that page has come (see shownHere): the connection may go at this very tap.
  async function look(entry) {
    let answer;
    try {
      answer = await post(entry);
    } catch {
      away ||= clock();
      show();
      return;
    }
    if (answer.goTo && !answer.goTo.startsWith("/sign-in")) {
      shelf.drop(entry);
      loadAgain(answer.goTo);
      return;
    }
    const form = make("form", "", { method: "post", action: entry.to });
    for (const [name, value] of entry.fields) form.append(make("input", "", { type: "hidden", name, value }));
    form.dataset.plain = "";
    shelf.put({ ...entry, state: "looked at" });
    document.body.append(form);
    form.submit();
  }

  // Entries that somebody went to look at: gone where their own page has come from the shop's computer.
  function shownHere(entry) {
    if (entry.state !== "looked at") return false;
    const came = new URL(entry.to, location.href).pathname === location.pathname && !document.documentElement.dataset.keptAt;
    if (came) shelf.drop(entry);
    else entry.state = "refused";
    return came;
  }

  // The strip at the foot of the page: what is not saved, and why.
  function show(saved = null) {
    const entries = shelf.all().filter((one) => one.state !== "looked at"); // its page is on the way
    if (!strip) {
      strip = make("section", "", { className: "unsaved" });
      strip.setAttribute("role", "status");
      document.body.append(strip);
    }
    strip.replaceChildren();
    strip.hidden = !entries.length && !away && !saved;
    document.body.classList.toggle("has-unsaved", !strip.hidden);
    if (strip.hidden) return;
    strip.classList.toggle("unsaved--good", !entries.length && !away);
    const line = make("p", "");
    const buttons = make("div", "", { className: "unsaved__do" });
    if (!entries.length) {
      if (saved) {
        line.append(make("strong", "Saved now: "), `${saved.words}.`);
        buttons.append(make("a", "Look at it", { href: saved.address }), button("Close", () => show()));
      } else {
        line.append(make("strong", `No connection to the shop's computer since ${away}. `), "What you see may be out of date.");
      }
    } else {
      const first = entries.find((one) => one.state) ?? entries[0];
      const more = entries.length > 1 ? ` and ${entries.length - 1} more` : "";
      line.append(make("strong", `Not saved yet: ${first.words}${more}. `));
      if (first.state === "refused") {
        line.append(first.why || "The shop's computer did not take it.");
        buttons.append(button("Look at it", () => look(first)));
      } else if (first.state === "signed out") {
        line.append("You are signed out. It is kept here: sign in, and it is sent.");
        const then = encodeURIComponent(location.pathname + location.search);
        buttons.append(make("a", "Sign in", { href: `/sign-in?then=${then}` }));
      } else if (first.state === "old") {
        line.append(`It was written on ${new Date(first.at).toLocaleString()}.`);
        buttons.append(button("Send it now", () => { delete first.state; first.at = Date.now(); shelf.put(first); sendAll(); }));
      } else {
        line.append(trouble
          ? `${trouble} (since ${away}). Your entry is kept here and sent by itself when that is over.`
          : `The shop's computer does not answer since ${away}. Your entry is kept here and sent by itself as soon as it does.`);
        buttons.append(button("Try now", () => sendAll()));
      }
      buttons.append(button("Throw it away", () => throwAway([first])));
    }
    strip.append(line, buttons);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.getAttribute("action") === "/sign-out") {
      const left = shelf.all();
      if (left.length && !form.dataset.asked) {
        event.preventDefault();
        form.dataset.asked = "yes";
        wake(form);
        show();
        strip.prepend(make("p", "Sign out once more to throw away what is not saved yet."));
      } else {
        throwAway(left);
      }
      return;
    }
    if (event.defaultPrevented || !keeps(form)) return;
    event.preventDefault();
    const entry = entryOf(form, event.submitter);
    asleep.set(entry.once, { form, submitter: event.submitter, entry });
    shelf.put(entry);
    sendAll();
  });

  // Parts of a page that htmx sends: the same, once it says that no answer came.
  for (const name of ["htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(name, (event) => {
      const { verb, path, parameters } = event.detail.requestConfig;
      const fields = parameters instanceof FormData ? [...parameters] : Object.entries(parameters ?? {});
      const once = fields.find(([field]) => field === "once")?.[1];
      if (verb === "post" && once && WHO && fields.every(([, value]) => typeof value === "string")) {
        shelf.put({ once, who: WHO, to: path, page: location.pathname, words: wordsOf(event.detail.elt.closest("form") ?? document.body), fields, at: Date.now() });
        sendAll();
      } else if (verb === "get") {
        away ||= clock();
        show();
      } else {
        say("No answer from the shop's computer. What you typed is still here: try again.");
      }
    });
  }
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.successful && away) {
      away = "";
      sendAll();
    }
  });

  window.addEventListener("online", () => sendAll());
  window.addEventListener("load", () => { history.scrollRestoration = "auto"; });

  // A page out of the browser's store (worker.js) may hold keys that were used since.
  if (document.documentElement.dataset.keptAt) document.querySelectorAll("form").forEach(renewKey);

  if (WHO) {
    for (const entry of shelf.all()) {
      if (shownHere(entry)) continue;
      if (entry.state === "signed out") delete entry.state;
      if (!entry.state && Date.now() - entry.at > BY_ITSELF) entry.state = "old";
      shelf.put(entry);
    }
    if (shelf.all().length) sendAll(true);
  }
})();
