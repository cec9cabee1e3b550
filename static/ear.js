// The microphone's samples, gathered into short blocks of 16 bits, as the shop's computer takes them.
"use strict";

const BLOCK = 256; // about half a hundredth of a second: less is waited for

class Ear extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
  }

  process(inputs) {
    const sound = inputs[0][0];
    if (!sound) return true;
    for (const sample of sound) {
      this.block[this.filled++] = Math.max(-32768, Math.min(32767, Math.round(sample * 32768)));
      if (this.filled === BLOCK) {
        this.port.postMessage(this.block.buffer, [this.block.buffer]);
        this.block = new Int16Array(BLOCK);
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("ear", Ear);
