// What the browser knows of the country: its time zone, and how it writes numbers. Both can be changed afterwards.
"use strict";

(() => {
  const form = document.querySelector("[data-first-run]");
  const zone = form?.elements.timezone;
  // A page that came back with what was typed keeps it.
  if (!zone || zone.value !== "UTC" || form.querySelector("[data-summary]")) return;
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if ([...zone.options].some((option) => option.value === here)) zone.value = here;
  const comma = new Intl.NumberFormat(navigator.language).format(1.5).includes(",");
  form.elements.decimal_comma.value = comma ? "on" : "";
})();
