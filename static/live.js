// The live bench: the microphone to the shop's computer, and what it hears to the dial. Without it: a recording.

const BEHIND = 100_000; // bytes not yet sent: beyond it blocks are dropped, so that the dial stays with the sound
const TAP = 400; // ms: a shorter press keeps waiting for the next steady note, since a flute needs both hands

const live = document.getElementById("live");
const part = (name) => live.querySelector(`[data-live="${name}"]`);
const dial = live.querySelector(".dial");
const needle = document.getElementById("needle");
let stream, context, node, socket;
let hold = false;
let pressedAt = 0; // 0: no finger is on the button

function tell(words, offerRecording = false) {
  part("words").textContent = words;
  if (offerRecording) document.getElementById("recording")?.setAttribute("open", "");
}

function signed(value) {
  const whole = Math.round(value);
  return whole > 0 ? `+${whole}` : whole < 0 ? `\u2212${-whole}` : "0";
}

// The air is told once on the page, in the form of the reading that is typed.
function air(name) {
  const field = document.querySelector(`form[data-air] [name="${name}"]`);
  if (!field) return live.dataset[name];
  return field.type === "checkbox" ? (field.checked ? "on" : "") : field.value;
}

function wish() {
  if (socket?.readyState !== WebSocket.OPEN) return;
  socket.send(JSON.stringify({
    rate: context.sampleRate, fingering: part("fingering").value, hold,
    temperature: air("temperature"), humidity: air("humidity"), warmed_up: air("warmed_up") === "on",
  }));
}

async function start() {
  tell("");
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
    });
  } catch (error) {
    const denied = error.name === "NotAllowedError";
    tell(denied ? "The browser was not allowed to use the microphone. Send a recording instead, or allow it."
      : "No microphone was found. Send a recording instead.", true);
    return;
  }
  context = new AudioContext({ latencyHint: "interactive" });
  await context.audioWorklet.addModule(live.dataset.worklet);
  node = new AudioWorkletNode(context, "ear", { channelCount: 1, channelCountMode: "explicit" });
  context.createMediaStreamSource(stream).connect(node).connect(context.destination);
  await context.resume();
  socket = new WebSocket(new URL(live.dataset.socket, location.href).href.replace(/^http/, "ws"));
  socket.addEventListener("open", () => {
    wish();
    node.port.onmessage = (event) => {
      if (socket.readyState === WebSocket.OPEN && socket.bufferedAmount < BEHIND) socket.send(event.data);
    };
    live.dataset.on = "yes";
    part("start").textContent = "Stop the microphone";
    live.dispatchEvent(new Event("live:on"));
  });
  socket.addEventListener("message", (event) => show(JSON.parse(event.data)));
  socket.addEventListener("close", (event) => {
    if (live.dataset.on !== "yes" && event.code !== 1000) tell("The shop's computer does not listen. Load the page again, or send a recording.", true);
    else if (live.dataset.on === "yes" && !part("words").textContent) tell("The connection to the shop's computer was lost. Start the microphone again.");
    stop();
  });
}

function stop() {
  release();
  for (const track of stream?.getTracks() ?? []) track.stop();
  if (node) node.port.onmessage = null;
  if (context && context.state !== "closed") context.close();
  delete live.dataset.on;
  part("start").textContent = "Start the microphone";
  show({ sounds: false });
  socket?.close();
}

function show(heard) {
  if (heard.over) tell(heard.over);
  if (heard.wrong) tell(Object.values(heard.wrong).join(" "));
  if (heard.sounds === undefined) return;
  const known = heard.sounds && heard.note;
  live.dataset.word = known ? heard.word.replace(" ", "-") : "";
  live.dataset.steady = heard.steady ? "yes" : "";
  part("note").textContent = known ? heard.note : heard.sounds ? "?" : "\u2013";
  part("cents").textContent = known ? signed(heard.cents) : "";
  part("word").textContent = known ? `${heard.word}${heard.steady ? ", steady" : ""}` : heard.sounds ? `${heard.hz.toFixed(1)} Hz: ${heard.overblown ? "overblown, blow softer" : "not this note"}` : "";
  part("how").textContent = known ? `${heard.fingering}  ${heard.hz.toFixed(1)} Hz` : "";
  if (known) {
    const { swing, reach, x, y } = dial.dataset;
    const turned = swing * Math.max(-reach, Math.min(reach, heard.cents)) / reach;
    needle.setAttribute("transform", `rotate(${turned.toFixed(2)} ${x} ${y})`);
  }
  const bar = part("held");
  if (bar) bar.value = heard.held ?? 0;
  live.dispatchEvent(new CustomEvent("live:heard", { detail: heard }));
  if (heard.take) write(heard.take);
}

// A note that stood: written down by the same form as one that was typed.
async function write(take) {
  release();
  await send(live.dataset.readings, new URLSearchParams({ ...take, temperature: air("temperature"), humidity: air("humidity"), warmed_up: air("warmed_up"), once: crypto.randomUUID() }));
}

// Sent beside the page, which goes on listening; what changed on it by that is put in.
async function send(address, sent) {
  const failed = (why) => {
    tell(why);
    live.dispatchEvent(new CustomEvent("live:failed", { detail: why }));
  };
  try {
    const answer = await fetch(address, { method: "POST", body: sent });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    // Groups within a drawing are called parts too: they come with it.
    const parts = page.querySelectorAll("[data-part]:not(svg [data-part])");
    if (!answer.ok || !parts.length) {
      const why = page.querySelector("[data-summary] li, main p")?.textContent.trim();
      failed(`Not written down. ${why ?? "Load the page again."}`);
      return;
    }
    for (const fresh of parts) document.querySelector(`[data-part="${fresh.dataset.part}"]:not(svg [data-part])`)?.replaceWith(document.adoptNode(fresh));
    const words = (where) => document.querySelector(where)?.textContent.replace(/\s+/g, " ").trim() ?? "";
    const next = words("[data-part=next] h2");
    const note = `${words("[data-part=last] .verdict__note")} ${words("[data-part=last] .verdict__cents")}`;
    tell(`Written down: ${note}.${next ? ` Next: ${next}.` : ""}`);
    live.dispatchEvent(new CustomEvent("live:written", { detail: { next } }));
  } catch {
    failed("No answer from the shop's computer: not written down.");
  }
}

function press(event) {
  if (live.dataset.on !== "yes") {
    tell("Start the microphone first.");
    return;
  }
  if (hold) {
    release();
    return;
  }
  hold = true;
  pressedAt = event.timeStamp; // when the finger came down, however late a busy browser says so
  part("hold").setAttribute("aria-pressed", "true");
  tell("");
  wish();
}

function letGo(event) {
  const pressed = pressedAt ? event.timeStamp - pressedAt : 0;
  pressedAt = 0;
  if (pressed > TAP) release();
}

function release() {
  if (!hold) return;
  hold = false;
  part("hold").setAttribute("aria-pressed", "false");
  part("held").value = 0;
  wish();
}

function ready() {
  live.hidden = false;
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia || !window.AudioWorkletNode) {
    part("start").hidden = true;
    live.dataset.cannot = "yes";
    tell("The microphone can't be used on this page: browsers allow it over https or on the shop's computer itself. Send a recording instead.", true);
    return;
  }
  part("start").addEventListener("click", () => (live.dataset.on === "yes" ? stop() : start()));
  part("fingering").addEventListener("change", wish);
  document.querySelector("form[data-air]")?.addEventListener("change", wish);
  const button = part("hold");
  if (button) {
    button.addEventListener("pointerdown", press);
    for (const end of ["pointerup", "pointercancel", "pointerleave"]) button.addEventListener(end, letGo);
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    button.addEventListener("keydown", (event) => {
      if ((event.key === " " || event.key === "Enter") && !event.repeat) press(event);
    });
    button.addEventListener("keyup", letGo);
  }
  window.addEventListener("pagehide", stop);
  // Hands-free: what a finger would do.
  live.addEventListener("live:listen", () => {
    if (!hold && live.dataset.on === "yes") press({ timeStamp: 0 });
  });
  live.addEventListener("live:send", (event) => send(event.detail.address, event.detail.sent));
}

ready();
