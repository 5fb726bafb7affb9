// The piece around the join, drawn on a canvas: pieces of wire sorted from far to near, each stroked
// dark and wide, then light and narrow. Only rings in sight are drawn, so size does not matter.

const SEGMENTS = 28;
const BARE = 0, SHUT = 1, TARGET = 2, STRIPE = 3;
const LOOKS = [["--wire-edge", "--wire"], ["--shut-edge", "--paper"], ["--ink", "--mark"], ["--ink", "--paper"]];

const picture = {
  canvas: $("canvas"),
  cache: new Map(),
  place: null,             // what is drawn where, for taps on the picture

  // Ring poses turned into the view of a pass: middles, half axes (u, v) and joins, in mm.
  turned(piece, pass) {
    const key = `${pieces.indexOf(piece)} ${pass.up} ${pass.toward}`;
    if (this.cache.has(key)) return this.cache.get(key);
    const view = this.poses(piece, null, [[1, 0, 0], pass.up, pass.toward]);
    if (this.cache.size > 8) this.cache.clear();
    this.cache.set(key, view);
    return view;
  },

  // Poses of some rings (all without a list) along three axes: to the right, up, towards the eye.
  poses(piece, list, [right, up, to]) {
    const { centre, normal, radius, wire, join } = piece.picture;
    const n = list ? list.length : centre.length / 3;
    const ring = list ? (at) => list[at] : (at) => at;
    const view = {
      n, wire: (at) => (wire.length > 1 ? wire[ring(at)] : wire[0]) / 100,
      x: new Float32Array(n), y: new Float32Array(n), z: new Float32Array(n),
      u: new Float32Array(3 * n), v: new Float32Array(3 * n),
      reach: new Float32Array(n), jx: new Float32Array(n), jy: new Float32Array(n), jz: new Float32Array(n),
    };
    const along = (axis, [a, b, c]) => a * axis[0] + b * axis[1] + c * axis[2];
    const seen = (point) => [along(right, point), along(up, point), along(to, point)];
    const triple = (values, k, unit) => [values[3 * k] / unit, values[3 * k + 1] / unit, values[3 * k + 2] / unit];
    for (let at = 0; at < n; at++) {
      const k = ring(at);
      [view.x[at], view.y[at], view.z[at]] = seen(triple(centre, k, 100));
      [view.jx[at], view.jy[at], view.jz[at]] = seen(triple(join, k, 100));
      const r = (radius.length > 1 ? radius[k] : radius[0]) / 100;
      const [p, q, s] = triple(normal, k, 1000);
      // Two directions in the ring's plane: one across x, one along the rest.
      let e = Math.abs(p) < 0.9 ? [0, s, -q] : [-s, 0, p];
      const long = Math.hypot(...e) || 1;
      e = e.map((part) => part / long);
      const f = [q * e[2] - s * e[1], s * e[0] - p * e[2], p * e[1] - q * e[0]];
      view.u.set(seen(e).map((part) => r * part), 3 * at);
      view.v.set(seen(f).map((part) => r * part), 3 * at);
      view.reach[at] = r + view.wire(at);
    }
    return view;
  },

  // Fit the canvas to its place; returns its size in CSS pixels.
  fit() {
    const box = this.canvas.getBoundingClientRect();
    const dense = window.devicePixelRatio || 1;
    const wide = Math.max(1, Math.round(box.width * dense)), high = Math.max(1, Math.round(box.height * dense));
    if (this.canvas.width !== wide) this.canvas.width = wide;
    if (this.canvas.height !== high) this.canvas.height = high;
    const pen = this.canvas.getContext("2d");
    pen.setTransform(dense, 0, 0, dense, 0, 0);
    pen.clearRect(0, 0, box.width, box.height);
    return [pen, box.width, box.height];
  },

  draw(info, zoom) {
    const [pen, wide, high] = this.fit();
    const look = getComputedStyle(document.documentElement);
    const colour = (name) => look.getPropertyValue(name).trim();
    pen.font = "600 16px system-ui, sans-serif";
    if (!info || !info.piece.picture) {
      pen.fillStyle = colour("--ink");
      pen.textAlign = "center";
      pen.fillText(t(info ? "picture.too_large" : tasks.count ? "end.all_done" : "end.nothing"), wide / 2, high / 2);
      return;
    }
    const view = this.turned(info.piece, info.pass);
    const across = 2 * view.reach[info.ring];
    const scale = zoom * Math.min(150, Math.max(56, Math.min(wide, high) / 3.2)) / across;
    const mx = view.jx[info.ring], my = view.jy[info.ring];
    const sx = (x) => wide / 2 + (x - mx) * scale, sy = (y) => high / 2 - (y - my) * scale;
    const inSight = [];
    for (let k = 0; k < view.n; k++) {
      if (Math.abs(view.x[k] - mx) - view.reach[k] < wide / 2 / scale &&
          Math.abs(view.y[k] - my) - view.reach[k] < high / 2 / scale) inSight.push(k);
    }
    this.place = { info, view, sx, sy, inSight };
    this.parts(pen, info.piece, sx, wide, high, colour);
    const shut = this.shut(info);
    const look_of = (k) => (k === info.ring ? TARGET : shut(k) ? SHUT : BARE);
    this.wires(pen, view, inSight.slice(0, 6000), sx, sy, scale, colour, look_of);
    this.outline(pen, view, info.ring, sx, sy, colour);
    if (checking < 0) this.electrode(pen, info, sx, sy, scale, colour);
    this.marks(pen, info, view, sx, sy, wide, high, colour);
    if (checking < 0) approach.draw(pen, info, wide, high, colour);
    this.rail(pen, info, view, wide, high, scale, colour);
  },

  // Which rings of the copy are shut: closed beforehand, or welded.
  shut(info) {
    const closed = new Set(info.piece.picture.closed);
    const which = tasks.piece[info.task], step = steps[which];
    const welded = (task) => task < 0 || store.result[task] === DONE;   // no task: welded before
    return (k) => closed.has(k) || (step[k] >= 0 && welded(tasks.find(which, info.copy - 1, step[k])));
  },

  // The join nearest to a place on the screen, within a finger's breadth; −1 if there is none.
  joinAt(x, y) {
    if (!this.place) return -1;
    const { info, view, sx, sy, inSight } = this.place;
    const which = tasks.piece[info.task];
    let best = -1, near = 32;
    for (const k of inSight) {
      const task = tasks.ofRing(which, info.copy - 1, k);
      const away = Math.hypot(sx(view.jx[k]) - x, sy(view.jy[k]) - y);
      if (task >= 0 && away < near) { near = away; best = task; }
    }
    return best;
  },

  // Rings as wire; the one to be welded dark and striped, those that are shut faint.
  wires(pen, view, rings, sx, sy, scale, colour, look_of) {
    if (!rings.length) return;
    let thin = Infinity;
    for (const k of rings) thin = Math.min(thin, view.wire(k));
    const layers = new Map();
    for (const k of rings) {
      const [ux, uy, uz] = view.u.subarray(3 * k, 3 * k + 3);
      const [vx, vy, vz] = view.v.subarray(3 * k, 3 * k + 3);
      const point = (angle) => {
        const c = Math.cos(angle), s = Math.sin(angle);
        return [sx(view.x[k] + ux * c + vx * s), sy(view.y[k] + uy * c + vy * s)];
      };
      const turn = 2 * Math.PI / SEGMENTS;
      for (let j = 0; j < SEGMENTS; j++) {
        const middle = (j + 0.5) * turn;
        const depth = view.z[k] + uz * Math.cos(middle) + vz * Math.sin(middle);
        let look = look_of(k);
        if (look === TARGET && j % 4 > 1) look = STRIPE;
        const key = (Math.floor(depth / thin * 4) + 1e6) * 8 + (view.wire(k) === thin ? 0 : 4) + look;
        let layer = layers.get(key);
        if (!layer) {
          layer = { edge: new Path2D(), wire: new Path2D(), steep: new Path2D(), thick: view.wire(k) * scale, look };
          layers.set(key, layer);
        }
        // Wire that runs towards the eye gets round ends, which cover the corners of its dark edge.
        const c = Math.cos(middle), s = Math.sin(middle);
        const steep = Math.abs(vz * c - uz * s) > 0.8 * Math.hypot(vx * c - ux * s, vy * c - uy * s);
        const wire = steep ? layer.steep : layer.wire;
        const more = steep ? 0.4 : 0.1;
        layer.edge.moveTo(...point((j - more) * turn));
        layer.edge.lineTo(...point(middle));
        layer.edge.lineTo(...point((j + 1 + more) * turn));
        const over = look >= TARGET ? 0.05 : 0.9;   // stripes end where they end
        wire.moveTo(...point((j - over) * turn));
        wire.lineTo(...point(j * turn));
        wire.lineTo(...point(middle));
        wire.lineTo(...point((j + 1) * turn));
        wire.lineTo(...point((j + 1 + over) * turn));
      }
    }
    pen.lineJoin = "round";
    pen.lineCap = "butt";
    for (const key of [...layers.keys()].sort((a, b) => a - b)) {
      const layer = layers.get(key);
      const [edge, wire] = LOOKS[layer.look];
      pen.strokeStyle = colour(edge);
      pen.lineWidth = layer.thick + (layer.look >= TARGET ? 3 : 0);
      pen.stroke(layer.edge);
      pen.strokeStyle = colour(wire);
      pen.lineWidth = layer.thick * (layer.look >= TARGET ? 0.9 : 0.76);
      pen.stroke(layer.wire);
      pen.lineCap = "round";
      pen.stroke(layer.steep);
      pen.lineCap = "butt";
    }
  },

  // Heat-sensitive parts: a hatched field behind the piece with its name; other fittings: an outline.
  parts(pen, piece, sx, wide, high, colour) {
    for (const part of piece.parts) {
      const left = Math.max(sx(part.left) - 6, -4), right = Math.min(sx(part.right) + 6, wide + 4);
      if (right <= left) continue;
      pen.save();
      pen.beginPath();
      pen.rect(left, 32, right - left, high - 64);
      pen.strokeStyle = colour(part.warm ? "--warm" : "--ink");
      pen.lineWidth = 2;
      if (part.warm) pen.setLineDash([8, 5]);
      pen.stroke();
      pen.setLineDash([]);
      pen.clip();
      pen.globalAlpha = 0.45;
      pen.beginPath();
      for (let x = left - high; part.warm && x < right; x += 22) {
        pen.moveTo(x, high);
        pen.lineTo(x + high, 0);
      }
      pen.stroke();
      pen.restore();
      const text = `${part.name}: ${part.text}`;
      pen.textAlign = "start";
      const room = wide - 64 - pen.measureText(text).width;
      pen.fillStyle = colour(part.warm ? "--warm" : "--ink");
      pen.fillText(text, Math.max(8, Math.min(left, room)), 22);
    }
  },

  // Joins of this copy that are to be checked: a lozenge; with a tick once that is done.
  lozenges(pen, info, view, sx, sy, wide, high, colour) {
    for (const task of checksOf(tasks.piece[info.task], info.copy - 1)) {
      const ring = taskInfo(task).ring;
      const x = sx(view.jx[ring]), y = sy(view.jy[ring]);
      if (x < -20 || x > wide + 20 || y < -20 || y > high + 20 || task === info.task) continue;
      pen.beginPath();
      for (const [dx, dy] of [[0, -15], [15, 0], [0, 15], [-15, 0]]) pen.lineTo(x + dx, y + dy);
      pen.closePath();
      pen.fillStyle = colour("--paper");
      pen.strokeStyle = colour("--mark");
      pen.lineWidth = 3;
      pen.fill();
      pen.stroke();
      if (!foundAt(task)) continue;
      pen.beginPath();
      pen.moveTo(x - 5, y); pen.lineTo(x - 1, y + 4); pen.lineTo(x + 6, y - 6);
      pen.stroke();
    }
  },

  marks(pen, info, view, sx, sy, wide, high, colour) {
    const order = info.piece.ring;
    const pass = checking >= 0 ? { first: 0, joins: 0 } : info.pass;   // who checks welds nothing
    if (checking >= 0) this.lozenges(pen, info, view, sx, sy, wide, high, colour);
    const last = pass.first + pass.joins;
    const place = (ring) => [sx(view.jx[ring]), sy(view.jy[ring])];
    const which = tasks.piece[info.task];
    // Welded ones: a small dot with a tick.
    pen.lineWidth = 2;
    for (let step = pass.first; step < last; step++) {
      const [x, y] = place(order[step]);
      if (x < -20 || x > wide + 20 || y < -20 || y > high + 20 || step === info.step) continue;
      const task = tasks.find(which, info.copy - 1, step);
      if (task < 0 || store.result[task] === DONE) {
        pen.strokeStyle = colour("--ink");
        pen.beginPath();
        pen.moveTo(x - 5, y); pen.lineTo(x - 1, y + 4); pen.lineTo(x + 6, y - 6);
        pen.stroke();
      } else if (step > info.step) {
        pen.fillStyle = colour("--paper");
        pen.strokeStyle = colour("--mark");
        pen.beginPath();
        pen.arc(x, y, step <= info.step + 3 ? 12 : 4, 0, 7);
        pen.fill();
        pen.stroke();
        if (step <= info.step + 3 && Math.hypot(x - wide / 2, y - high / 2) > 34) {
          pen.fillStyle = colour("--ink");
          pen.font = "600 12px system-ui, sans-serif";
          pen.textAlign = "center";
          pen.fillText(`+${step - info.step}`, x, y + 4);
        }
      }
    }
    // The way to the next join.
    if (info.step + 1 < last) {
      const [x, y] = place(order[info.step + 1]);
      const cx = wide / 2, cy = high / 2, length = Math.hypot(x - cx, y - cy);
      if (length > 60) {
        const [dx, dy] = [(x - cx) / length, (y - cy) / length];
        const end = Math.min(length - 18, Math.min(wide, high) * 0.42);
        this.arrow(pen, cx + dx * 26, cy + dy * 26, cx + dx * end, cy + dy * end, colour("--mark"));
        if (x < 0 || x > wide || y < 0 || y > high) {
          const text = t("picture.next", { ring: order[info.step + 1] + 1 });
          pen.font = "600 14px system-ui, sans-serif";
          pen.textAlign = "center";
          const half = pen.measureText(text).width / 2 + 4;
          const tx = Math.min(Math.max(cx + dx * end, half), wide - half), ty = cy + dy * end - 26;
          pen.fillStyle = colour("--paper");
          pen.fillRect(tx - half, ty - 14, 2 * half, 20);
          pen.fillStyle = colour("--mark");
          pen.fillText(text, tx, ty);
        }
      }
    }
    // This join: a target, so thin that the ring itself stays seen.
    for (const [radius, name, thick] of [[21, "--paper", 7], [21, "--mark", 3], [3, "--paper", 5], [3, "--mark", 3]]) {
      pen.strokeStyle = colour(name);
      pen.lineWidth = thick;
      pen.beginPath();
      pen.arc(wide / 2, high / 2, radius, 0, 7);
      pen.stroke();
    }
    pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      pen.moveTo(wide / 2 + dx * 16, high / 2 + dy * 16);
      pen.lineTo(wide / 2 + dx * 30, high / 2 + dy * 30);
    }
    pen.lineWidth = 4;
    pen.strokeStyle = colour("--mark");
    pen.stroke();
  },

  // The ring to be welded once more as a broken line, so that it shows where others lie over it.
  outline(pen, view, ring, sx, sy, colour) {
    pen.beginPath();
    for (let j = 0; j <= 2 * SEGMENTS; j++) {
      const angle = Math.PI * j / SEGMENTS, c = Math.cos(angle), s = Math.sin(angle);
      pen.lineTo(sx(view.x[ring] + view.u[3 * ring] * c + view.v[3 * ring] * s),
        sy(view.y[ring] + view.u[3 * ring + 1] * c + view.v[3 * ring + 1] * s));
    }
    for (const [name, thick, dash] of [["--paper", 4, []], ["--mark", 2.5, [9, 6]]]) {
      pen.strokeStyle = colour(name);
      pen.lineWidth = thick;
      pen.setLineDash(dash);
      pen.stroke();
    }
    pen.setLineDash([]);
  },

  // The electrode as seen from where the eye is: a cone that comes to the join.
  electrode(pen, info, sx, sy, scale, colour) {
    const [ax, ay] = approach.seen(info);
    const flat = Math.hypot(ax, ay);
    const { view } = this.place;
    if (flat < 0.15) return;
    const x = sx(view.jx[info.ring]), y = sy(view.jy[info.ring]);
    const long = Math.min(content.electrode.stick_out_mm * scale, 130) * flat;
    const half = Math.min(content.electrode.shank_mm * scale / 2, 16);
    const [dx, dy] = [ax / flat, -ay / flat];
    const taper = Math.min(long * 0.8, half / Math.tan(content.electrode.half_angle_rad) * flat);
    pen.beginPath();
    pen.moveTo(x, y);
    pen.lineTo(x + dx * taper - dy * half, y + dy * taper + dx * half);
    pen.lineTo(x + dx * long - dy * half, y + dy * long + dx * half);
    pen.lineTo(x + dx * long + dy * half, y + dy * long - dx * half);
    pen.lineTo(x + dx * taper + dy * half, y + dy * taper - dx * half);
    pen.closePath();
    pen.save();
    pen.globalAlpha = 0.7;
    pen.fillStyle = colour("--electrode");
    pen.fill();
    pen.restore();
    pen.strokeStyle = colour("--ink");
    pen.lineWidth = 1.5;
    pen.stroke();
  },

  arrow(pen, x0, y0, x1, y1, colour) {
    const angle = Math.atan2(y1 - y0, x1 - x0);
    pen.strokeStyle = pen.fillStyle = colour;
    pen.lineWidth = 3;
    pen.setLineDash([8, 5]);
    pen.beginPath();
    pen.moveTo(x0, y0);
    pen.lineTo(x1, y1);
    pen.stroke();
    pen.setLineDash([]);
    pen.beginPath();
    pen.moveTo(x1 + 10 * Math.cos(angle), y1 + 10 * Math.sin(angle));
    pen.lineTo(x1 + 8 * Math.cos(angle + 2.2), y1 + 8 * Math.sin(angle + 2.2));
    pen.lineTo(x1 + 8 * Math.cos(angle - 2.2), y1 + 8 * Math.sin(angle - 2.2));
    pen.fill();
  },

  // A rail along the lower edge: the whole piece, and the part in sight.
  rail(pen, info, view, wide, high, scale, colour) {
    let low = Infinity, top = -Infinity;
    for (let k = 0; k < view.n; k++) {
      low = Math.min(low, view.x[k] - view.reach[k]);
      top = Math.max(top, view.x[k] + view.reach[k]);
    }
    const at = (x) => 12 + (x - low) / (top - low) * (wide - 24);
    const x = view.jx[info.ring];
    if ((top - low) * scale <= wide) return;
    pen.fillStyle = colour("--paper");
    pen.strokeStyle = colour("--line");
    pen.lineWidth = 1;
    pen.fillRect(12, high - 20, wide - 24, 12);
    pen.strokeRect(12, high - 20, wide - 24, 12);
    const left = Math.max(at(x - wide / 2 / scale), 12), right = Math.min(at(x + wide / 2 / scale), wide - 12);
    pen.fillStyle = colour("--mark");
    pen.fillRect(left, high - 20, Math.max(4, right - left), 12);
  },
};
