// A traveler's code read by the camera, where the browser can; the serial is typed otherwise. A code is followed only
// to a page of this shop, never to another site.
"use strict";

(() => {
  const scan = document.getElementById("scan");
  const video = scan.querySelector("video");
  const words = scan.querySelector("[data-words]");
  const start = scan.querySelector("[data-start]");
  const EVERY = 180; // ms between two looks
  let stream;
  let timer;

  const gathered = document.getElementById("gathered"); // several are scanned, one after another

  function gather(serial) {
    if ([...gathered.querySelectorAll('[name="serial"]')].some((one) => one.value === serial)) return;
    navigator.vibrate?.(60);
    const row = document.createElement("li");
    const field = Object.assign(document.createElement("input"), { type: "hidden", name: "serial", value: serial });
    row.append(serial, field);
    gathered.querySelector("ul").append(row);
    words.textContent = `${serial}. Hold the next one before the camera.`;
  }

  const cannot = (text) => {
    scan.dataset.cannot = "yes";
    words.textContent = text;
  };

  // Where a code leads: a page of this shop, by its path alone, since one shop may have several names in a network.
  function pathOf(text) {
    try {
      const url = new URL(text);
      if (!/^https?:$/.test(url.protocol)) return null;
      return /^\/(blanks|stock|orders|patterns|glue-up|bench)\//.test(url.pathname) ? url.pathname + url.search : null;
    } catch {
      return /^[\w-]{1,20}$/.test(text) ? `/scan?serial=${encodeURIComponent(text)}` : null;
    }
  }

  async function look(detector) {
    let found = [];
    try {
      found = await detector.detect(video);
    } catch { /* a picture that is not there yet */ }
    for (const code of found) {
      const path = pathOf(code.rawValue.trim());
      if (path && gathered && path.startsWith("/blanks/")) {
        gather(decodeURIComponent(path.split(/[/?#]/)[2]));
        continue;
      }
      if (path) {
        stop();
        navigator.vibrate?.(60);
        words.textContent = "Found.";
        location.assign(path.startsWith("/blanks/") ? `${path}#now` : path);
        return;
      }
      words.textContent = "That code is not one of this shop's.";
    }
    timer = setTimeout(look, EVERY, detector);
  }

  function stop() {
    clearTimeout(timer);
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
    delete scan.dataset.on;
    start.textContent = "Start the camera";
  }

  async function begin() {
    words.textContent = "";
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: { ideal: "environment" } }, audio: false });
    } catch (error) {
      words.textContent = error.name === "NotAllowedError"
        ? "The browser was not allowed to use the camera. Allow it, or type the serial."
        : "No camera was found. Type the serial.";
      return;
    }
    video.srcObject = stream;
    await video.play();
    scan.dataset.on = "yes";
    start.textContent = "Stop the camera";
    words.textContent = "Hold the code of the traveler before the camera.";
    look(new BarcodeDetector({ formats: ["qr_code"] }));
  }

  async function ready() {
    scan.hidden = false;
    if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) {
      cannot("The camera can't be used on this page: browsers allow it over https or on the shop's computer itself. Scan with the phone's own camera instead, or type the serial.");
      return;
    }
    const formats = (await window.BarcodeDetector?.getSupportedFormats?.()) ?? [];
    if (!formats.includes("qr_code")) {
      cannot("This browser can't read codes by itself. Scan with the phone's own camera, which opens the same page, or type the serial.");
      return;
    }
    start.addEventListener("click", () => (stream ? stop() : begin()));
    window.addEventListener("pagehide", stop);
    // Allowed before: the camera starts by itself, one tap less.
    const allowed = await navigator.permissions?.query({ name: "camera" }).catch(() => null);
    if (allowed?.state === "granted") begin();
  }

  ready();
})();
