// Keeping the screen on while somebody works, sound and vibration at the end of a wait, and noticing
// that the device slept.

const ASLEEP_MS = 20000;   // a gap between ticks of a second that means sleep

const awake = {
  lock: null,
  lastTick: now(),
  slept: 0,                // ms asleep since the join came up
  sound: null,

  get possible() { return "wakeLock" in navigator; },

  async hold() {
    if (!this.possible || this.lock || document.visibilityState !== "visible") return;
    try {
      this.lock = await navigator.wakeLock.request("screen");
      this.lock.addEventListener("release", () => { this.lock = null; });
    } catch (error) {
      this.lock = null;   // the battery is low, or the page is not in front
    }
  },

  drop() {
    if (this.lock) this.lock.release();
  },

  // Called every second; a longer gap is time in which nobody can have worked.
  tick() {
    const at = now();
    if (at - this.lastTick > ASLEEP_MS) this.slept += at - this.lastTick;
    this.lastTick = at;
  },

  // Browsers let a page sound only after a tap.
  listen() {
    if (!this.sound && "AudioContext" in window) this.sound = new AudioContext();
  },

  call() {
    if (store.settings.shake && "vibrate" in navigator) navigator.vibrate([200, 100, 200]);
    if (!store.settings.sound || !this.sound) return;
    const pen = this.sound, start = pen.currentTime;
    for (const [at, pitch] of [[0, 660], [0.25, 880]]) {
      const tone = pen.createOscillator(), loud = pen.createGain();
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0.3, start + at);
      loud.gain.exponentialRampToValueAtTime(0.001, start + at + 0.2);
      tone.connect(loud).connect(pen.destination);
      tone.start(start + at);
      tone.stop(start + at + 0.22);
    }
  },
};
