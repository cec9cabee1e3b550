/* Search with the keyboard alone: arrows go from the field down the links that were found, and back up. */
document.addEventListener("keydown", (event) => {
  if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
  const field = document.getElementById("f-q");
  const stops = [field, ...document.querySelectorAll("#found li > a:first-of-type")];
  const at = stops.indexOf(document.activeElement);
  if (at < 0) return;
  const next = stops[at + (event.key === "ArrowDown" ? 1 : -1)];
  if (!next) return;
  event.preventDefault();
  next.focus();
});
