// Keys for the way around: ? lists them, / goes to the search, g and a letter to a screen. They can be switched off on the
// page that lists them (WCAG 2.2, 2.1.4), and do nothing while someone types.
"use strict";

{
  const SCREENS = { r: "/", o: "/orders", b: "/blanks", p: "/patterns", g: "/glue-up", t: "/bench", s: "/stock", h: "/shop", c: "/scan" };
  const WAIT = 1500; // ms between g and its letter
  let began = 0;
  const store = {
    get() { try { return localStorage.getItem("keys"); } catch { return null; } },
    set(value) { try { localStorage.setItem("keys", value); } catch { /* storage is switched off */ } },
  };

  document.addEventListener("keydown", (event) => {
    if (store.get() === "off" || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest?.("input, select, textarea, [contenteditable]")) return;
    const after = performance.now() - began < WAIT;
    began = 0;
    if (after && SCREENS[event.key]) {
      event.preventDefault();
      location.assign(SCREENS[event.key]);
    } else if (event.key === "g") {
      began = performance.now();
    } else if (event.key === "?") {
      location.assign("/guide/keyboard");
    } else if (event.key === "/") {
      const field = document.getElementById("search-all");
      if (!field) return;
      event.preventDefault();
      if (!field.checkVisibility()) document.getElementById("head-more")?.showPopover?.();
      field.focus();
    }
  });

  const button = document.querySelector("[data-keys]");
  if (button) {
    const tell = () => { button.textContent = store.get() === "off" ? "Switch these keys on" : "Switch these keys off"; };
    button.hidden = false;
    tell();
    button.addEventListener("click", () => {
      store.set(store.get() === "off" ? "on" : "off");
      tell();
    });
  }
}
