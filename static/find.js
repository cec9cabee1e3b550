// The search in the head answers as one types: a combobox with a list (WAI-ARIA Authoring Practices Guide, combobox with
// list autocomplete). Arrows choose, Enter opens what is chosen or else looks for the words, Escape closes the list.
"use strict";

{
  const field = document.getElementById("search-all");
  const found = document.getElementById("at-hand");
  const told = document.getElementById("at-hand-told");
  if (field && found && told && window.htmx) {
    field.setAttribute("role", "combobox");
    field.setAttribute("aria-autocomplete", "list");
    field.setAttribute("aria-controls", "at-hand-list");
    field.setAttribute("aria-expanded", "false");

    const options = () => [...found.querySelectorAll("[role=option]")];
    const chosen = () => found.querySelector("[aria-selected=true]");

    const choose = (option) => {
      chosen()?.setAttribute("aria-selected", "false");
      if (!option) {
        field.removeAttribute("aria-activedescendant");
        return;
      }
      option.setAttribute("aria-selected", "true");
      field.setAttribute("aria-activedescendant", option.id);
      option.scrollIntoView({ block: "nearest" });
    };

    const show = (open) => {
      found.hidden = !open;
      field.setAttribute("aria-expanded", String(open));
      if (!open) choose(null);
    };

    document.addEventListener("htmx:afterSwap", (event) => {
      if (event.detail.target !== found) return;
      const list = found.querySelector("[role=listbox]");
      const here = document.activeElement === field && field.value.trim() !== "";
      told.textContent = here && list ? list.dataset.told : "";
      show(Boolean(here && list));
    });

    field.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !found.hidden) {
        event.preventDefault();
        show(false);
        told.textContent = "";
        return;
      }
      if (event.key === "Enter" && !found.hidden && chosen()) {
        event.preventDefault();
        if (event.ctrlKey || event.metaKey) window.open(chosen().href, "_blank", "noopener");
        else location.assign(chosen().href);
        return;
      }
      if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
      const all = options();
      if (!all.length) return;
      event.preventDefault();
      if (found.hidden) {
        show(true);
        if (event.altKey) return;
      }
      // From the field one gets to the first or the last, and beyond either end back to the field.
      const steps = [null, ...all];
      const at = steps.indexOf(chosen());
      choose(steps.at((at + (event.key === "ArrowDown" ? 1 : -1)) % steps.length));
    });

    field.addEventListener("focus", () => {
      if (options().length && field.value.trim() && field.value === field.dataset.asked) show(true);
    });
    field.addEventListener("htmx:configRequest", () => {
      field.dataset.asked = field.value;
    });
    // A press in the list must not take the focus from the field before it opens what it is on.
    found.addEventListener("pointerdown", (event) => event.preventDefault());
    field.closest("form").addEventListener("focusout", (event) => {
      if (!event.currentTarget.contains(event.relatedTarget)) show(false);
    });
  }
}
