// Playing a pattern before it is cut: notes by touch or by keys, breath by a slider. Without it: the WAV below.

const REGISTERS = ["", "first", "second", "third"];

const listen = document.getElementById("play");
const piece = (name) => listen.querySelector(`[data-play="${name}"]`);
const notes = JSON.parse(listen.dataset.notes);
const buttons = [...listen.querySelectorAll("[data-finger]")];
const slider = piece("breath");
let context, node;
let starting = null;
let held = -1;

const pressure = () => Math.exp(Number(slider.value) / 100);

function tell(words) {
  piece("words").textContent = words;
}

function shown() {
  const pa = pressure();
  const mm = pa / 9.80665;
  const water = listen.dataset.units === "inch" ? `${(mm / 25.4).toFixed(1)}"` : `${Math.round(mm)} mm`;
  const words = `${Math.round(pa)} Pa, ${water} of water`;
  piece("pressure").textContent = words;
  slider.setAttribute("aria-valuetext", words);
}

async function begin() {
  context = new AudioContext({ latencyHint: "interactive" });
  await context.audioWorklet.addModule(listen.dataset.worklet);
  node = new AudioWorkletNode(context, "flute", { numberOfInputs: 0, outputChannelCount: [1], processorOptions: { notes } });
  node.port.onmessage = ({ data }) => heard(data);
  node.connect(context.destination);
  await context.resume();
}

function heard({ frequency, register }) {
  if (held < 0) return;
  const name = buttons[held].dataset.name;
  tell(frequency ? `${name}: ${frequency.toFixed(1)} Hz, ${REGISTERS[register]} register` : `${name} does not speak at this breath`);
}

async function press(finger) {
  held = finger;
  for (const button of buttons) button.setAttribute("aria-pressed", String(Number(button.dataset.finger) === finger));
  try {
    starting ??= begin();
    await starting;
  } catch {
    starting = null;
    tell("This browser can't play it. The WAV file below sounds the same.");
    return;
  }
  // A key may have been let go while the sound was being set up.
  node.port.postMessage({ finger: held, pressure: held < 0 ? 0 : pressure() });
}

function letGo() {
  if (held < 0) return;
  held = -1;
  for (const button of buttons) button.setAttribute("aria-pressed", "false");
  node?.port.postMessage({ pressure: 0 });
  tell("");
}

function numbered(event) {
  const typing = event.target.closest("input:not([type=range]), select, textarea");
  const finger = Number(event.key) - 1;
  return !typing && !event.ctrlKey && !event.metaKey && !event.altKey && finger >= 0 && finger < buttons.length ? finger : -1;
}

function ready() {
  if (!window.AudioWorkletNode || !window.isSecureContext) {
    listen.hidden = false;
    listen.dataset.cannot = "yes";
    tell("Browsers play this only over https or on the shop's computer itself. The WAV file below sounds the same.");
    return;
  }
  listen.hidden = false;
  for (const button of buttons) {
    const finger = Number(button.dataset.finger);
    button.addEventListener("pointerdown", () => press(finger));
    for (const end of ["pointerup", "pointercancel", "pointerleave"]) button.addEventListener(end, letGo);
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    button.addEventListener("keydown", (event) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) press(finger);
    });
    button.addEventListener("keyup", (event) => {
      if (event.key === " " || event.key === "Enter") letGo();
    });
    button.addEventListener("blur", letGo);
  }
  slider.addEventListener("input", () => {
    shown();
    if (held >= 0) node?.port.postMessage({ pressure: pressure() });
  });
  document.addEventListener("keydown", (event) => {
    const finger = numbered(event);
    if (finger >= 0 && !event.repeat) press(finger);
  });
  document.addEventListener("keyup", (event) => {
    if (numbered(event) === held) letGo();
  });
  window.addEventListener("pagehide", () => context?.close());
  shown();
}

ready();
