// Running clocks: how long ago something began, how long until something is over. The page says the times without it.
"use strict";

function span(seconds) {
  const whole = Math.floor(Math.abs(seconds));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const rest = String(whole % 60).padStart(2, "0");
  return hours ? `${hours} h ${String(minutes).padStart(2, "0")} min` : `${minutes}:${rest}`;
}

function tick() {
  const now = Date.now();
  for (const at of document.querySelectorAll("[data-clock]")) {
    if (at.dataset.clock === "since") {
      const gone = (now - Date.parse(at.dataset.from)) / 1000;
      const limit = Number(at.dataset.limit) * 60;
      at.textContent = span(gone);
      at.classList.toggle("wrong", gone > limit);
    } else {
      const left = (Date.parse(at.dataset.until) - now) / 1000;
      at.textContent = left > 0 ? `${span(left)} left.` : `${at.dataset.over}.`;
    }
  }
}

tick();
setInterval(tick, 1000);
document.addEventListener("main:new", tick);
