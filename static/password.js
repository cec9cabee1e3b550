// Beside each password a button that shows what was typed, and hides it again; sent, it is hidden always.
"use strict";

(() => {
  for (const field of document.querySelectorAll('input[type="password"]')) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button--quiet reveal";
    button.setAttribute("aria-controls", field.id);
    const set = (shown) => {
      field.type = shown ? "text" : "password";
      button.textContent = shown ? "Hide" : "Show";
      button.setAttribute("aria-pressed", String(shown));
      button.setAttribute("aria-label", shown ? "Hide what was typed" : "Show what was typed");
    };
    const line = document.createElement("span");
    line.className = "field__line";
    field.replaceWith(line);
    line.append(field, button);
    field.autocapitalize = "off";
    field.spellcheck = false;
    set(false);
    button.addEventListener("click", () => set(field.type === "password"));
    field.form?.addEventListener("submit", () => set(false));
  }
})();
