// Rings when an open time is nearly over, is over, or a blank can come out of the clamps: on whatever page is open, after
// a reload too, until someone says that they heard it. It rings only where someone asked for it, on the glue-up page.
"use strict";

(() => {
  const ON = "alarms";
  const HEARD = "alarm-heard";
  const ASK_EVERY = 20_000; // ms
  const AGAIN = 6_000; // ms between two rings
  const TOO_OLD = 12 * 3600_000; // ms: what was over so long ago rings no more
  const TITLE = document.title;
  const here = document.currentScript;
  let alarms = [];
  let ahead = 0; // ms by which the shop's clock is ahead of this device's
  let asked = 0;
  let rang = 0;
  let sound;
  let strip;

  const store = {
    get(name) { try { return localStorage.getItem(name); } catch { return null; } },
    set(name, value) { try { localStorage.setItem(name, value); } catch { /* storage is switched off */ } },
  };
  const on = () => store.get(ON) === "on";
  const heard = () => { try { return JSON.parse(store.get(HEARD) || "[]"); } catch { return []; } };

  async function ask() {
    asked = Date.now();
    try {
      const answer = await fetch("/glue-up/alarms", { headers: { accept: "application/json" } });
      if (!answer.ok || !answer.headers.get("content-type")?.startsWith("application/json")) return;
      const told = await answer.json();
      ahead = Date.parse(told.now) - Date.now();
      alarms = told.alarms;
    } catch { /* no answer: what was told before still rings */ }
  }

  // Two short tones, made here. A browser lets a page sound only after someone touched it.
  function ring() {
    try {
      sound ||= new AudioContext();
      if (sound.state !== "running") {
        sound.resume().then(() => strip?.querySelector(".alarm__mute")?.remove());
        return;
      }
      for (const [start, pitch] of [[0, 880], [0.28, 660], [0.56, 880]]) {
        const tone = sound.createOscillator();
        const loudness = sound.createGain();
        tone.frequency.value = pitch;
        const at = sound.currentTime + start;
        loudness.gain.setValueAtTime(0.0001, at);
        loudness.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
        loudness.gain.exponentialRampToValueAtTime(0.0001, at + 0.24);
        tone.connect(loudness).connect(sound.destination);
        tone.start(at);
        tone.stop(at + 0.25);
      }
    } catch { /* no sound here: it is still to be seen */ }
  }

  function notify(alarm) {
    try {
      if (globalThis.Notification?.permission === "granted") new Notification(alarm.what, { body: alarm.more, tag: alarm.key });
    } catch { /* some phones allow it from a service worker only */ }
  }

  function show(due) {
    if (!due.length) {
      strip?.remove();
      strip = undefined;
      document.title = TITLE;
      return;
    }
    if (!strip) {
      strip = document.createElement("div");
      strip.className = "alarm";
      strip.setAttribute("role", "alert");
      document.body.append(strip);
    }
    document.title = `(!) ${due[0].what}`;
    const keys = due.map((one) => one.key).join(" ");
    if (strip.dataset.keys === keys) return;
    strip.dataset.keys = keys;
    strip.replaceChildren(...due.slice(0, 4).map((alarm) => {
      const row = document.createElement("div");
      row.className = "alarm__one";
      const what = document.createElement("p");
      what.className = "alarm__what";
      what.append(alarm.what);
      const more = document.createElement("span");
      more.append(alarm.more);
      what.append(more);
      const to = document.createElement("a");
      to.className = "button";
      to.href = "/glue-up";
      to.append("To the glue-up page");
      const done = document.createElement("button");
      done.type = "button";
      done.className = "button--primary";
      done.append("Heard");
      done.addEventListener("click", () => {
        store.set(HEARD, JSON.stringify([...heard(), alarm.key].slice(-60)));
        tick();
      });
      row.append(what, to, done);
      return row;
    }));
    if (sound?.state !== "running") {
      const mute = document.createElement("p");
      mute.className = "alarm__mute";
      mute.append("This browser lets the page sound only after a touch: tap anywhere.");
      strip.append(mute);
    }
  }

  function tick() {
    if (!on()) {
      show([]);
      return;
    }
    if (Date.now() - asked > ASK_EVERY) ask();
    const moment = Date.now() + ahead;
    const known = heard();
    const due = alarms.filter((one) => Date.parse(one.at) <= moment && moment - Date.parse(one.at) < TOO_OLD && !known.includes(one.key));
    // An open time that is over needs no word that it soon will be.
    const over = (key) => alarms.some((one) => one.key === key && Date.parse(one.at) <= moment);
    const shown = due.filter((one) => !one.key.startsWith("soon-") || !over(one.key.replace("soon", "open")));
    const fresh = shown.filter((one) => !strip?.dataset.keys?.split(" ").includes(one.key));
    show(shown);
    if (shown.length && (fresh.length || Date.now() - rang > AGAIN)) {
      rang = Date.now();
      ring();
      for (const one of fresh) notify(one);
    }
  }

  function label(button) {
    button.setAttribute("aria-pressed", String(on()));
    button.querySelector("span").textContent = on() ? "Rings here when time is up" : "Ring here when time is up";
  }

  function offer() {
    for (const button of document.querySelectorAll("[data-alarms]")) {
      button.hidden = false;
      label(button);
      button.addEventListener("click", async () => {
        store.set(ON, on() ? "off" : "on");
        label(button);
        if (on()) {
          sound ||= new AudioContext();
          sound.resume().then(ring); // so that one knows how it sounds, and the browser lets it sound later
          asked = 0;
          if (globalThis.Notification?.permission === "default") await Notification.requestPermission().catch(() => {});
        }
        tick();
      });
    }
  }
  offer();
  document.addEventListener("main:new", offer);
  // A touch anywhere lets this page sound from then on.
  addEventListener("pointerdown", () => { if (on()) { sound ||= new AudioContext(); sound.resume().then(() => { if (strip) ring(); }); } }, { once: true });
  addEventListener("storage", tick);
  document.addEventListener("visibilitychange", tick);
  if (on()) ask().then(tick);
  try {
    new Worker(here.dataset.ticker).addEventListener("message", tick);
  } catch {
    setInterval(tick, 1000);
  }
})();
