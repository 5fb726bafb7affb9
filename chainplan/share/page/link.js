// The sheet as one of several that share a record: it gets its plan and the others' taps from the
// computer that shares, and hands over its own, each once, whenever that can be reached.

const token = take_token(() => localStorage, "token");

// What is still to be handed over, and what the record has, on disk: a closed page loses nothing.
const outbox = {
  base: null,
  waiting: new Map(),      // id → event

  async open(key) {
    try {
      this.base = await new Promise((good, bad) => {
        const request = indexedDB.open(`bench ${key}`, 1);
        request.onupgradeneeded = () => {
          for (const name of ["waiting", "known"]) request.result.createObjectStore(name, { keyPath: "i" });
        };
        request.onsuccess = () => good(request.result);
        request.onerror = () => bad(request.error);
      });
      const all = await this.run("waiting", "readonly", (box) => box.getAll());
      for (const event of all.sort((a, b) => a.ms - b.ms)) this.waiting.set(event.i, event);
      return await this.run("known", "readonly", (box) => box.getAll());
    } catch (error) {
      this.base = null;
      return [];
    }
  },

  know(events) {
    this.change("known", (box) => { events.forEach((event) => box.put({ ...event })); });
  },

  forget() {
    this.change("known", (box) => { box.clear(); });
  },

  change(name, what) {
    if (this.base) this.run(name, "readwrite", what).catch(() => { this.base = null; });
  },

  run(name, mode, what) {
    return new Promise((good, bad) => {
      const change = this.base.transaction(name, mode);
      const request = what(change.objectStore(name));
      change.oncomplete = () => good(request && request.result);
      change.onerror = change.onabort = () => bad(change.error);
    });
  },

  put(event) {
    this.waiting.set(event.i, event);
    this.change("waiting", (box) => { box.put({ ...event }); });
  },

  remove(ids) {
    for (const id of ids) this.waiting.delete(id);
    this.change("waiting", (box) => { ids.forEach((id) => box.delete(id)); });
  },
};

const MOST_AT_ONCE = 200;
const RETRY_MS = 1500;

const link = {
  shared: true,
  offset_ms: 0,
  seq: 0,
  near: true,              // whether the computer was reached last time
  stopped: "",             // why nothing is exchanged any more
  taken: [],               // stretches that somebody has taken
  sending: false,
  keeps: false,            // whether the page opens without the computer
  quiet: null,             // what ends the stream
  refused: 0,

  person() {
    try { return localStorage.getItem("person") || ""; } catch (error) { return this.label || ""; }
  },

  state() {
    const waiting = outbox.waiting.size;
    if (this.stopped) return t(this.stopped, { n: waiting });
    if (!this.near) return t("link.away", { n: waiting });
    return waiting ? t("link.waiting", { n: waiting }) : t("link.over");
  },

  showState() {
    $("link").hidden = false;
    $("link").textContent = [this.person(), this.state()].filter(Boolean).join(" · ");
    $("link").classList.toggle("away", !this.near || Boolean(this.stopped));
    $("link-kind").textContent = t(isSecureContext ? "link.secure" : "link.plain") +
      (this.keeps ? ` ${t("link.keeps")}` : "") + (outbox.base ? "" : ` ${t("link.no_disk")}`);
    if (this.refused) $("link-kind").textContent += ` ${t("link.refused", { n: this.refused })}`;
  },

  // ---- Stretches that people take -----------------------------------------------------------------

  me: () => store.settings.device,

  holds(claim, task) {
    return claim.piece === tasks.piece[task] && claim.copy === tasks.copy[task] &&
      tasks.step[task] >= claim.first && tasks.step[task] < claim.first + claim.steps;
  },

  apart(task) {
    const claim = this.taken.find((each) => each.device !== this.me() && this.holds(each, task));
    return claim ? claim.person || t("link.somebody") : "";
  },

  mine(task) {
    const own = this.taken.filter((each) => each.device === this.me());
    if (own.length) return own.some((each) => this.holds(each, task));
    return !this.taken.some((each) => this.holds(each, task));
  },

  async take(which, copy, first, count, give) {
    const body = { piece: which, copy, first, steps: count, device: this.me(), person: this.person() };
    try {
      const answer = await ask_server(give ? "give" : "take", body);
      const told = await answer.json();
      if (told.taken) this.taken = told.taken;
      if (answer.status === 409) say(t("jump.taken", { person: told.by || t("link.somebody") }));
    } catch (error) {
      say(t("link.take_away"));
    }
    this.refresh();
    if ($("passes").open) { $("passes").close(); openPasses(); }
  },

  takeButton(which, copy, first, count, words) {
    const own = this.taken.find((each) => each.device === this.me() && each.piece === which && each.copy === copy &&
      each.first === first && each.steps === count);
    const other = this.taken.find((each) => each.device !== this.me() && each.piece === which && each.copy === copy &&
      each.first < first + count && first < each.first + each.steps);
    if (other) return element("span", t("link.taken_by", { person: other.person || t("link.somebody") }));
    const button = element("button", t(own ? "link.give" : "link.take"));
    button.type = "button";
    button.setAttribute("aria-label", `${t(own ? "link.give" : "link.take")}: ${words}`);
    button.addEventListener("click", () => this.take(which, copy, first, count, Boolean(own)));
    return button;
  },

  pieceRow(which, copy) {
    const row = element("p");
    row.append(this.takeButton(which, copy, 0, pieces[which].ring.length, pieceTitle({ piece: pieces[which], copy: copy + 1 })));
    return row;
  },

  passButton(which, copy, pass) {
    return this.takeButton(which, copy, pass.first, pass.joins, t("pass.number", { number: pass.number }));
  },

  refresh() {
    this.showState();
    const { piece, ring } = shown >= 0 && shown !== null ? taskInfo(shown) : {};
    show();
    if (piece && shown >= 0 && taskInfo(shown).ring !== ring) say(t("link.moved_on"));
  },

  // ---- Handing over -------------------------------------------------------------------------------

  keep(event) {
    outbox.put(event);
    this.showState();
    this.send();
  },

  wire(event) {
    const { piece, copy, ring } = taskInfo(event.t);
    return {
      id: event.i, result: event.r, piece: piece.name, copy, ring: ring + 1, person: event.p, note: event.n,
      work_s: event.w, waited_s: event.v, undoes: event.u || null, ms: event.ms - this.offset_ms,
    };
  },

  async send() {
    if (this.sending || this.stopped || !outbox.waiting.size) return;
    this.sending = true;
    try {
      while (outbox.waiting.size && !this.stopped) {
        const part = [...outbox.waiting.values()].slice(0, MOST_AT_ONCE);
        const body = { device: this.me(), person: this.person(), now_ms: now(), events: part.map((event) => this.wire(event)) };
        const answer = await ask_server("events", body);
        if (!this.reached(answer)) break;
        const told = await answer.json();
        for (const [id, [seq, ms]] of Object.entries(told.kept)) {
          const event = store.ids.get(id);
          if (event) { event.s = seq; event.ms = ms; }
        }
        outbox.know(Object.keys(told.kept).flatMap((id) => store.ids.get(id) || []));
        this.refused += Object.keys(told.refused).length;
        outbox.remove([...Object.keys(told.kept), ...Object.keys(told.refused)]);
      }
    } catch (error) {
      this.near = false;
    }
    this.sending = false;
    this.showState();
    if (outbox.waiting.size && !this.stopped) setTimeout(() => this.send(), RETRY_MS);
  },

  // What an answer says about the link itself.
  reached(answer) {
    this.near = answer.ok || answer.status < 500;
    if (answer.status === 401) {
      this.stopped = "link.scan_again";
      try { localStorage.removeItem("token"); } catch (error) { /* it was kept nowhere */ }
    }
    if (answer.status === 410) this.stopped = "link.other_plan";
    return answer.ok;
  },

  // ---- Taking in ----------------------------------------------------------------------------------

  takeIn(told) {
    const events = told.events.flatMap((event) => {
      const which = pieces.findIndex((piece) => piece.name === event.piece);
      const task = which < 0 ? -1 : tasks.ofRing(which, event.copy - 1, event.ring - 1);
      if (task < 0 && event.result !== "undo") return [];
      return [{
        i: event.id, t: task < 0 ? 0 : task, r: event.result, n: event.note, at: event.at, ms: event.ms,
        w: event.work_s ?? "", v: event.waited_s ?? "", a: "", p: event.person, u: event.undoes, d: event.device, s: event.seq,
      }];
    });
    for (const event of told.events) this.seq = Math.max(this.seq, event.seq);
    const before_taken = JSON.stringify(this.taken);
    if (told.taken) this.taken = told.taken;
    if (told.now_ms) this.setClock(told.now_ms);
    const fresh = store.merge(events, false);
    if (events.length) outbox.know(events);
    if (fresh || before_taken !== JSON.stringify(this.taken)) this.refresh();
    else this.showState();
  },

  // How far this device's clock is off; small differences are the way, not the clock.
  setClock(now_ms) {
    const off = now_ms - now();
    if (Math.abs(off - this.offset_ms) < 2000) return;
    for (const event of store.events) if (!event.s) event.ms += off - this.offset_ms;
    this.offset_ms = off;
    wait = shown >= 0 && shown !== null ? waitOf(shown) : wait;
  },

  async catchUp() {
    for (;;) {
      const answer = await ask_server(`events?after=${this.seq}`);
      if (!this.reached(answer)) return false;
      const told = await answer.json();
      if (told.newest < this.seq) {   // another record than the one known so far: begin anew
        outbox.forget();
        store.clear();
        store.merge([...outbox.waiting.values()], false);
        this.seq = 0;
        continue;
      }
      this.takeIn(told);
      if (!told.more) return true;
    }
  },

  // News as they come; where a stream does not come through, asking every second does as well.
  async listen() {
    while (!this.stopped) {
      let there = false;
      try {
        there = await this.catchUp();
      } catch (error) {
        this.near = false;
      }
      this.showState();
      if (there) {
        this.send();
        try {
          await this.stream();
        } catch (error) { /* it broke off, or none comes through: ask again */ }
      }
      await new Promise((good) => setTimeout(good, 700 + 600 * Math.random()));
    }
    this.showState();
  },

  async stream() {
    const quiet = this.quiet = new AbortController();
    let timer = setTimeout(() => quiet.abort(), 15000);
    const answer = await fetch(`/api/stream?after=${this.seq}&device=${this.me()}&person=${encodeURIComponent(this.person())}`, {
      headers: { Authorization: `Bearer ${token}` }, cache: "no-store", signal: quiet.signal,
    });
    if (!this.reached(answer)) { clearTimeout(timer); return; }
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    let text = "";
    for (;;) {
      const { value, done } = await reader.read();
      clearTimeout(timer);
      if (done) return;
      timer = setTimeout(() => quiet.abort(), 15000);
      text += value;
      const blocks = text.split("\n\n");
      text = blocks.pop();
      for (const block of blocks) {
        if (block.startsWith("data: ")) this.takeIn(JSON.parse(block.slice(6)));
      }
    }
  },

  // ---- Beginning ----------------------------------------------------------------------------------

  async open() {
    if (!token) return fail("401");
    for (;;) {
      try {
        const answer = await ask_server("sheet");
        if (answer.status === 401) return fail("401");
        if (answer.ok) return answer.json();
      } catch (error) { /* not there yet */ }
      await new Promise((good) => setTimeout(good, RETRY_MS));
    }
  },

  async start() {
    $("link-box").hidden = false;
    $("person").value = this.person();
    $("person").addEventListener("change", () => this.setPerson($("person").value));
    $("who-save").addEventListener("click", () => { this.setPerson($("who-label").value); $("who").close(); });
    const known = await outbox.open(content.key);
    for (const event of known) this.seq = Math.max(this.seq, event.s || 0);
    store.merge([...known.sort((a, b) => a.s - b.s), ...outbox.waiting.values()], false);
    this.keep_page();
    this.refresh();
    window.addEventListener("online", () => this.send());
    this.listen();
    if (!this.person()) {
      if ($("cautions").open) $("cautions").addEventListener("close", () => { if (!this.person()) $("who").showModal(); }, { once: true });
      else $("who").showModal();
    }
  },

  // Over a secure link the browser keeps the page and the plan, so that they open by themselves.
  async keep_page() {
    if (!isSecureContext || !("serviceWorker" in navigator)) return;
    try {
      await navigator.serviceWorker.register("/worker.js");
      await navigator.serviceWorker.ready;
      if (!navigator.serviceWorker.controller) {
        await new Promise((good) => navigator.serviceWorker.addEventListener("controllerchange", good, { once: true }));
      }
      const kept = await Promise.all([fetch("/"), ask_server("sheet")]);
      this.keeps = kept.every((answer) => answer.ok);
      this.showState();
    } catch (error) { /* a certificate that is not trusted yet */ }
  },

  setPerson(text) {
    const label = text.replace(/\s+/g, " ").trim().slice(0, 60);
    this.label = label;
    try { localStorage.setItem("person", label); } catch (error) { /* kept while the page is open */ }
    $("person").value = label;
    this.quiet?.abort();   // the stream begins again under that label
    this.showState();
  },
};

function fail(why) {
  document.getElementById("app").hidden = true;
  document.getElementById("no-entry").hidden = false;
  return null;
}

const content = await link.open();
if (!content) return;
