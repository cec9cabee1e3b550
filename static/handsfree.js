// The bench with both hands on the flute, or glue on them: it says what to do and what it heard, listens for the next note
// by itself, marks an entry with a tone, and moves on at a pedal's or presenter's key. And a page in big type.

const live = document.getElementById("live");
const free = document.querySelector("[data-free]");
const big = document.querySelector("[data-big]");
const store = {
  get(name) { try { return localStorage.getItem(name); } catch { return null; } },
  set(name, value) { try { localStorage.setItem(name, value); } catch { /* storage is switched off */ } },
};
let sound;
let silent = true; // nothing has sounded since the last entry: a note that goes on is not written down twice
let speaking = false;
let cutSent = false;

const spoken = (text) => text
  .replace(/([A-G])\u266f/g, "$1 sharp ").replace(/([A-G])\u266d/g, "$1 flat ").replace(/\u2212(\d+) cents/g, "$1 cents flat")
  .replace(/\+(\d+) cents/g, "$1 cents sharp").replace(/"/g, " inch");
const next = () => document.querySelector("[data-part=next] .next__do")?.textContent.replace(/\s+/g, " ").trim() ?? "";
const cut = () => document.querySelector("[data-part=next] .cut button.button--primary")?.form;
const isOn = () => free?.checked && live.dataset.on === "yes";

function tone(pitch) {
  try {
    sound ||= new AudioContext();
    const made = sound.createOscillator();
    const loudness = sound.createGain();
    made.frequency.value = pitch;
    loudness.gain.setValueAtTime(0.25, sound.currentTime);
    loudness.gain.exponentialRampToValueAtTime(0.0001, sound.currentTime + 0.18);
    made.connect(loudness).connect(sound.destination);
    made.start();
    made.stop(sound.currentTime + 0.2);
  } catch { /* no sound here: it stands on the screen */ }
}

// Says it, then goes on; what it says itself must not be taken for a note. Some browsers never say that they have ended.
function say(text, then = () => {}) {
  const words = spoken(text);
  speaking = true;
  let over = false;
  const done = () => {
    if (over) return;
    over = true;
    speaking = false;
    then();
  };
  setTimeout(done, 1500 + 90 * words.length);
  if (!window.speechSynthesis || !words) {
    done();
    return;
  }
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(words);
  said.lang = "en";
  said.addEventListener("end", done);
  said.addEventListener("error", done);
  speechSynthesis.speak(said);
}

// The next note is waited for, unless a cut comes before it.
function listen() {
  if (isOn() && silent && !speaking && !cut()) live.dispatchEvent(new Event("live:listen"));
}

function moveOn() {
  const form = cut();
  if (form) {
    const sent = new URLSearchParams(new FormData(form));
    cutSent = true;
    sent.set("once", crypto.randomUUID());
    live.dispatchEvent(new CustomEvent("live:send", { detail: { address: form.getAttribute("action"), sent } }));
  } else {
    silent = true;
    listen();
  }
}

if (live && free) {
  free.checked = store.get("hands-free") === "on";
  free.addEventListener("change", () => {
    store.set("hands-free", free.checked ? "on" : "off");
    if (isOn()) say(next(), listen);
    else window.speechSynthesis?.cancel();
  });
  live.addEventListener("live:on", () => { if (isOn()) say(next(), listen); });
  live.addEventListener("live:heard", ({ detail }) => {
    if (detail.sounds) return;
    silent = true;
    listen();
  });
  live.addEventListener("live:written", () => {
    if (!isOn()) return;
    silent = false;
    tone(880);
    const last = document.querySelector("[data-part=last] .verdict");
    const heard = [...(last?.querySelectorAll(".verdict__note, .verdict__cents") ?? [])].map((one) => one.textContent.trim()).join(" ");
    const told = cutSent ? "The cut is written down" : heard;
    cutSent = false;
    say(`${told}. ${next()}.${cut() ? " Press on when it is cut." : ""}`, listen);
  });
  live.addEventListener("live:failed", ({ detail }) => {
    if (!isOn()) return;
    cutSent = false;
    tone(220);
    say(detail);
  });
  // A pedal or presenter is a keyboard: its keys move on wherever they would do nothing else.
  document.addEventListener("keydown", (event) => {
    if (!isOn() || event.repeat || !["PageDown", "Enter", " "].includes(event.key)) return;
    if (event.key !== "PageDown" && event.target.closest?.("a, button, summary, input, select, textarea")) return;
    if (event.target.closest?.("textarea, select, input:not([type=checkbox], [type=radio])")) return;
    event.preventDefault();
    moveOn();
  });
}

if (big) {
  const show = () => document.body.classList.toggle("big-type", big.checked);
  big.closest("p").hidden = false;
  big.checked = store.get("big-type") === "on";
  show();
  big.addEventListener("change", () => {
    store.set("big-type", big.checked ? "on" : "off");
    show();
  });
}
