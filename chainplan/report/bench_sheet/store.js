// What was done, kept in the browser after every tap. Events are stored in blocks, so that a tap
// on a long list rewrites only the last block.

const BLOCK = 200;
const OPEN = 0, DONE = 1, LATER = 2;

const store = {
  events: [],
  result: new Uint8Array(tasks.count),
  notes: new Map(),       // task → latest note
  agains: new Map(),      // task → how often it was welded again
  settings: { acknowledged: false, zoom: 1, keys: true },
  kept: true,             // whether the browser keeps what is stored
  done: 0,
  key: `bench-sheet ${content.key}`,

  load() {
    try {
      const head = JSON.parse(localStorage.getItem(this.key) || "null");
      localStorage.setItem(`${this.key} try`, "1");
      localStorage.removeItem(`${this.key} try`);
      if (!head) return;
      const events = [];
      for (let block = 0; block * BLOCK < head.events; block++) {
        events.push(...JSON.parse(localStorage.getItem(`${this.key} ${block}`) || "[]"));
      }
      this.settings = { ...this.settings, ...head.settings };
      this.replace(events.slice(0, head.events).filter((event) => event.t < tasks.count), false);
    } catch (error) {
      this.kept = false;
    }
  },

  // Store the head and the blocks from the one of the given event on.
  save(from = this.events.length - 1) {
    try {
      const first = Math.max(0, Math.floor(from / BLOCK));
      for (let block = first; block * BLOCK < this.events.length; block++) {
        const part = this.events.slice(block * BLOCK, (block + 1) * BLOCK);
        localStorage.setItem(`${this.key} ${block}`, JSON.stringify(part));
      }
      const head = { events: this.events.length, settings: this.settings };
      localStorage.setItem(this.key, JSON.stringify(head));
      this.kept = true;
    } catch (error) {
      this.kept = false;
    }
  },

  apply(event) {
    const before = this.result[event.t];
    if (event.r === "done") this.result[event.t] = DONE;
    if (event.r === "later") this.result[event.t] = LATER;
    if (event.r === "again") {
      this.result[event.t] = OPEN;
      this.agains.set(event.t, (this.agains.get(event.t) || 0) + 1);
    }
    if (event.n) this.notes.set(event.t, event.n);
    this.done += (this.result[event.t] === DONE) - (before === DONE);
  },

  add(event) {
    this.events.push(event);
    this.apply(event);
    this.save();
  },

  replace(events, keep = true) {
    this.events = events;
    this.recount();
    if (keep) this.save(0);
  },

  // Take back the last tap and return it.
  undo() {
    const event = this.events.pop();
    if (event) {
      this.recount();
      this.save(this.events.length);
    }
    return event;
  },

  recount() {
    this.result.fill(OPEN);
    this.notes.clear();
    this.agains.clear();
    this.done = 0;
    for (const event of this.events) this.apply(event);
  },

  // The next join: the first that is open on a copy that lies woven by the schedule, or was begun;
  // where none is, the first that is open; then the first that was left for later.
  next() {
    const open = this.result.indexOf(OPEN);
    if (open < 0) return this.result.indexOf(LATER);
    const lies = wovenCopies(this.events);
    const woven = this.result.findIndex((result, task) => result === OPEN && lies[tasks.piece[task]][tasks.copy[task]]);
    return woven >= 0 ? woven : open;
  },

  // Seconds still to go: at the plan's pace, and at the pace of the last joins.
  left() {
    let planned = 0, waits = 0, open = 0;
    for (let task = 0; task < tasks.count; task++) {
      if (this.result[task] === DONE) continue;
      const piece = pieces[tasks.piece[task]];
      planned += piece.pace[tasks.step[task]] / 10;
      waits += piece.wait[tasks.step[task]];
      open++;
    }
    const recent = this.events.filter((event) => event.r !== "note").slice(-60);
    const joins = recent.filter((event) => event.r === "done").length;
    if (joins < 10) return { seconds: planned + waits, own: false };
    const work = recent.reduce((sum, event) => sum + event.w, 0);
    return { seconds: work / joins * open + waits, own: true };
  },
};
