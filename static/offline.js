// Sets up the service worker (worker.js), tells it what may be wanted without a connection, and says on a page that
// comes from its store how old it is. Browsers allow it over https and on the shop's computer itself alone.
"use strict";

(() => {
  const script = document.currentScript;
  const MOST_AHEAD = 60; // pages
  const TRY = 15_000; // ms between looks whether the shop's computer is back
  const store = navigator.serviceWorker;
  const person = document.querySelector('meta[name="person"]');

  function tell(message) {
    store?.ready.then(({ active }) => active.postMessage(message));
  }

  function shown() {
    const names = performance.getEntriesByType("resource").map((one) => one.name);
    return names.filter((name) => name.startsWith(location.origin) && /^\/(static|library|fonts)\//.test(new URL(name).pathname));
  }

  // From the rack: glue-up and every blank on it. A page of the bench is kept once it was open.
  function ahead() {
    if (location.pathname !== "/" || navigator.connection?.saveData) return [];
    const links = [...document.querySelectorAll('main a[href^="/blanks/"]')].map((one) => new URL(one.href));
    const blanks = new Set(links.filter((one) => /^\/blanks\/[^/]+$/.test(one.pathname)).map((one) => one.pathname));
    return ["/glue-up", ...blanks].slice(0, MOST_AHEAD);
  }

  function sayHowOld(at) {
    const when = new Date(at).toLocaleString("en", { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
    const notice = document.createElement("div");
    notice.className = "notice";
    notice.id = "as-it-was";
    notice.setAttribute("role", "status");
    const words = document.createElement("div");
    const strong = document.createElement("strong");
    strong.textContent = `The shop's computer does not answer: this is how it was on ${when}.`;
    words.append(strong, " What you write down is kept here, and sent when it answers again.");
    notice.append(words);
    document.getElementById("main")?.prepend(notice);
    setInterval(lookAgain, TRY);
    window.addEventListener("online", lookAgain);
  }

  // The page comes as it is now, once nobody is typing on it and nothing waits to be sent.
  async function lookAgain() {
    if (document.querySelector(".unsaved:not([hidden])") || document.activeElement?.matches("main input, main textarea, main select")) return;
    try {
      const answer = await fetch("/healthz", { cache: "no-store" });
      if (answer.ok) location.reload();
    } catch { /* still away */ }
  }

  const keptAt = Number(document.documentElement.dataset.keptAt);
  if (keptAt) sayHowOld(keptAt);
  if (!store) return;
  if (location.pathname === "/sign-in") {
    // Whoever signs in next sees nothing of the one before.
    store.getRegistration().then((known) => known && tell({ forget: true }));
    return;
  }
  if (!person) return;
  document.addEventListener("submit", (event) => {
    if (event.target.getAttribute("action") === "/sign-out") tell({ forget: true });
  });
  store.register(script.dataset.worker, { scope: "/" }).catch(() => { /* the browser is set not to keep anything */ });
  if (!keptAt) window.addEventListener("load", () => tell({ files: shown(), pages: [location.pathname + location.search, ...ahead()] }));
})();
