// What was done, kept in the browser after every tap. Events are only ever added: { i id, t task,
// r result, n note, at as told, ms since 1970, w work, v waited, a set apart, p person, u what it
// takes back, d device, s its number in the record }. They are stored in blocks, so that a tap on a
// long list rewrites only the last block.

const BLOCK = 200;
const OPEN = 0, DONE = 1, LATER = 2;
const CHECKS = new Set(["good", "bad"]);     // results that say what a check found
const WELDED = new Set(["done", "again"]);   // results that leave the piece warm

const store = {
  events: [],
  ids: new Map(),         // id → event
  undone: new Set(),      // ids that were taken back
  result: new Uint8Array(tasks.all),
  checked: new Map(),     // task → the first check of its join: one welded again still counts as bad
  notes: new Map(),       // task → latest note
  agains: new Map(),      // task → how often it was welded again
  broken: new Set(),      // tasks whose ring broke
  twice: new Map(),       // task → its two events, where two people welded one join
  doneBy: new Map(),      // task → the event that says it is done
  lastWeld: new Map(),    // copy → its last weld
  lastTap: null,          // the last tap that was not taken back
  settings: {
    read: "", zoom: 1, keys: true, left: false, sound: true, shake: true, large: true, device: "",
    jumped: null,
  },
  kept: true,             // whether the browser keeps what is stored
  done: 0,
  key: `bench-sheet ${content.key}`,

  load() {
    try {
      const head = JSON.parse(localStorage.getItem(this.key) || "null");
      localStorage.setItem(`${this.key} try`, "1");
      localStorage.removeItem(`${this.key} try`);
      if (head) {
        const events = [];
        for (let block = 0; block * BLOCK < head.events; block++) {
          events.push(...JSON.parse(localStorage.getItem(`${this.key} ${block}`) || "[]"));
        }
        this.settings = { ...this.settings, ...head.settings };
        this.events = events.slice(0, head.events).filter((event) => event.t < tasks.all);
        this.ids = new Map(this.events.map((event) => [event.i, event]));
        this.undone = new Set(this.events.filter((event) => event.r === "undo").map((event) => event.u));
        this.recount();
      }
    } catch (error) {
      this.kept = false;
    }
    if (!this.settings.device) this.settings.device = newId();
  },

  // Store the head and the blocks from the one of the given event on.
  save(from = this.events.length - 1) {
    try {
      if (!link.shared) {
        const first = Math.max(0, Math.floor(from / BLOCK));
        for (let block = first; block * BLOCK < this.events.length; block++) {
          const part = this.events.slice(block * BLOCK, (block + 1) * BLOCK);
          localStorage.setItem(`${this.key} ${block}`, JSON.stringify(part));
        }
      }
      const head = { events: link.shared ? 0 : this.events.length, settings: this.settings };
      localStorage.setItem(this.key, JSON.stringify(head));
      this.kept = true;
    } catch (error) {
      this.kept = false;
    }
  },

  saveSettings() {
    this.save(Infinity);
  },

  apply(event) {
    const task = event.t;
    const before = this.result[task];
    if (event.r === "done") {
      const other = this.doneBy.get(task);
      if (before === DONE && other && other.d !== event.d) this.twice.set(task, [other, event]);
      this.result[task] = DONE;
      this.doneBy.set(task, event);
      this.broken.delete(task);
    }
    if (event.r === "later") this.result[task] = LATER;
    if (event.r === "again" || event.r === "broken" || event.r === "opened" || event.r === "bad") {
      this.result[task] = OPEN;
      this.doneBy.delete(task);
      this.twice.delete(task);
      if (event.r === "again" || event.r === "bad") this.agains.set(task, (this.agains.get(task) || 0) + 1);
      else this.broken.add(task);
    }
    if (CHECKS.has(event.r) && !this.checked.has(task)) this.checked.set(task, event);
    if (event.n && event.r !== "undo") this.notes.set(task, event.n);
    if (WELDED.has(event.r)) this.lastWeld.set(copyKey(task), event);
    if (this.own(event)) this.lastTap = event;
    this.done += (this.result[task] === DONE) - (before === DONE);
  },

  own(event) {
    return !link.shared || event.d === this.settings.device;
  },

  add(event) {
    event = { i: newId(), d: this.settings.device, p: link.person(), ms: clock(), ...event };
    this.events.push(event);
    this.ids.set(event.i, event);
    if (event.r === "undo") {
      this.undone.add(event.u);
      this.recount();
    } else this.apply(event);
    this.save();
    link.keep(event);
    return event;
  },

  // Take in events of another tab, a saved log or other people; returns how many were new.
  merge(events, keep = true) {
    let fresh = 0, late = false;
    for (const event of events) {
      const known = this.ids.get(event.i);
      if (known) {
        if (event.s && !known.s) { known.s = event.s; late ||= known.ms !== event.ms; known.ms = event.ms; }
        continue;
      }
      if (!(event.t < tasks.all) && event.r !== "undo") continue;
      const last = this.events[this.events.length - 1];
      late ||= event.r === "undo" || Boolean(last && last.ms > event.ms);
      this.events.push(event);
      this.ids.set(event.i, event);
      if (event.r === "undo") this.undone.add(event.u);
      else if (!late) this.apply(event);
      fresh++;
    }
    if (late) {
      this.events.sort((a, b) => a.ms - b.ms || (a.s || Infinity) - (b.s || Infinity) || 0);
      this.recount();
    }
    if (keep && fresh) this.save(0);
    return fresh;
  },

  // Take back the last tap of this sheet and return it.
  undo() {
    const event = this.lastTap;
    if (event) this.takeBack(event);
    return event;
  },

  takeBack(event) {
    this.add({ t: event.t, r: "undo", n: "", at: timeStamp(new Date()), w: "", v: "", a: "", u: event.i });
  },

  clear() {
    this.events = [];
    this.ids.clear();
    this.undone.clear();
    this.recount();
    this.save(0);
  },

  recount() {
    this.result.fill(OPEN);
    for (const each of [this.notes, this.agains, this.broken, this.twice, this.doneBy, this.lastWeld, this.checked]) each.clear();
    this.lastTap = null;
    this.done = 0;
    for (const event of this.events) {
      if (event.r !== "undo" && !this.undone.has(event.i)) this.apply(event);
    }
  },

  // The next join for whoever holds this sheet: in the pass that was chosen from there on; else the
  // first that is open on a copy that lies woven by the schedule, or was begun; where none is, the
  // first that is open; then the first that was left for later. −1: none at all.
  next() {
    const chosen = this.settings.jumped;
    if (chosen !== null) {
      const task = this.nextChosen(chosen);
      if (task >= 0) return task;
      this.settings.jumped = null;
    }
    const lies = wovenCopies(this.events);
    let unwoven = -1, later = -1;
    for (let task = 0; task < tasks.count; task++) {
      if (this.result[task] === DONE || !link.mine(task)) continue;
      if (this.result[task] !== OPEN) later = later < 0 ? task : later;
      else if (lies[tasks.piece[task]][tasks.copy[task]]) return task;
      else if (unwoven < 0) unwoven = task;
    }
    return unwoven >= 0 ? unwoven : later;
  },

  // The join that was chosen, or what follows it in its pass; −1 when that pass is through.
  nextChosen(chosen) {
    if (!(chosen < tasks.count)) return -1;
    if (this.result[chosen] !== DONE && link.mine(chosen)) return chosen;
    const { piece, pass, copy } = taskInfo(chosen);
    for (let step = tasks.step[chosen] + 1; step < pass.first + pass.joins; step++) {
      const task = tasks.find(pieces.indexOf(piece), copy - 1, step);
      if (task >= 0 && this.result[task] === OPEN && link.mine(task)) return task;
    }
    return -1;
  },
};
