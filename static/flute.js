// A sketch in sound of a flute that is not cut yet: its pitch and registers as the engine has them, and no more of its
// tone. Every register comes and goes with the decay of its resonance; breath is noise through the resonances.
"use strict";

const PARTIALS = [1, 0.22, 0.1, 0.04]; // guesses, as in the engine's own sketch
const BREATH_NOISE = 0.012;
const BREATH_TIME = 0.02; // s in which the breath follows the slider and the finger
const TOLD_EVERY = 0.1; // s

// Between the engine's points by straight lines; below the first one the pitch goes straight on.
function between(x, at, values, straightOn) {
  const last = at.length - 1;
  if (x >= at[last]) return values[last];
  if (x <= at[0]) return straightOn && last > 0 ? values[0] + (x - at[0]) * (values[1] - values[0]) / (at[1] - at[0]) : values[0];
  let low = 0;
  let high = last;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (at[middle] <= x) low = middle;
    else high = middle;
  }
  return values[low] + (values[high] - values[low]) * (x - at[low]) / (at[high] - at[low]);
}

// The register at a pressure, where `before` sounds: up at the jumps, down where the note falls back.
function registerAfter(note, before, pressure) {
  if (note.speaks === null || pressure < note.speaks || !note.registers.length) return 0;
  const lowest = note.registers[0].number;
  const rising = lowest + note.jumps.filter((jump) => pressure >= jump).length;
  if (!before || note.falls === null || before <= rising) return rising;
  return before === lowest + 1 && pressure >= note.falls ? before : rising;
}

class Flute extends AudioWorkletProcessor {
  constructor(options) {
    super();
    const { notes, finger = -1, pressure = 0 } = options.processorOptions;
    this.notes = notes;
    this.aim = finger < 0 ? 0 : pressure;
    this.breath = 0;
    this.register = 0;
    this.sinceTold = 0;
    this.take(Math.max(0, finger));
    this.port.onmessage = ({ data }) => {
      if (data.finger !== undefined && data.finger >= 0 && data.finger !== this.finger) this.take(data.finger);
      this.aim = data.pressure;
    };
  }

  take(finger) {
    this.finger = finger;
    this.note = this.notes[finger];
    this.register = 0;
    this.voices = this.note.registers.map((one) => {
      const radius = Math.exp(-one.decay / sampleRate);
      const turn = 2 * Math.PI * one.passive / sampleRate;
      return {
        one, phase: 0, loud: 0, y1: 0, y2: 0,
        keep: radius, b: 2 * radius * Math.cos(turn), c: radius * radius,
        gain: Math.sqrt(1 - radius * radius) * Math.SQRT2 * Math.sin(turn) * BREATH_NOISE / one.number,
      };
    });
  }

  process(_, outputs) {
    const out = outputs[0][0];
    const follow = Math.exp(-out.length / sampleRate / BREATH_TIME);
    this.breath = this.aim + (this.breath - this.aim) * follow;
    this.register = registerAfter(this.note, this.register, this.breath);
    const pressure = Math.max(this.breath, this.note.speaks || 1);
    const x = Math.log(pressure);
    const rush = Math.sqrt(Math.min(1, this.breath / 600));
    let heard = 0;
    for (const voice of this.voices) {
      const { one } = voice;
      const sounds = this.register === one.number;
      const frequency = one.passive * 2 ** (between(x, one.log, one.cents, true) / 1200);
      const level = sounds ? 10 ** (between(x, one.log, one.level, false) / 20) : 0;
      const step = 2 * Math.PI * frequency / sampleRate;
      if (sounds) heard = frequency;
      for (let i = 0; i < out.length; i++) {
        voice.loud = level + (voice.loud - level) * voice.keep;
        voice.phase += step;
        const noise = voice.gain * rush * (Math.random() + Math.random() + Math.random() - 1.5) * 2;
        const y = noise + voice.b * voice.y1 - voice.c * voice.y2;
        voice.y2 = voice.y1;
        voice.y1 = y;
        let tone = y;
        if (voice.loud > 1e-5) for (let k = 0; k < PARTIALS.length; k++) tone += voice.loud * PARTIALS[k] * Math.sin((k + 1) * voice.phase);
        out[i] += 0.5 * tone;
      }
      voice.phase %= 2 * Math.PI;
    }
    this.sinceTold += out.length / sampleRate;
    if (this.sinceTold >= TOLD_EVERY) {
      this.sinceTold = 0;
      this.port.postMessage({ frequency: heard, register: this.register, pressure: this.breath });
    }
    return true;
  }
}

registerProcessor("flute", Flute);
