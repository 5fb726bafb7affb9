// How the electrode comes to the join: a small picture from the side on which it leans, so that its
// angle shows as it is.

const approach = {
  // The direction from the join to the electrode's holder: to the right, up, towards the eye.
  seen(info) {
    const all = info.piece.picture.approach, k = info.ring;
    const way = [all[3 * k] / 1000, all[3 * k + 1] / 1000, all[3 * k + 2] / 1000];
    const along = (axis) => way[0] * axis[0] + way[1] * axis[1] + way[2] * axis[2];
    return [way[0], along(info.pass.up), along(info.pass.toward)];
  },

  // In words: upright, or so many degrees to one side of eight.
  words(info) {
    const [ax, ay, az] = this.seen(info);
    const lean = Math.round(Math.atan2(Math.hypot(ax, ay), az) * 180 / Math.PI / 5) * 5;
    if (lean < 8) return t("approach.upright");
    const turn = Math.round(Math.atan2(ay, ax) * 4 / Math.PI);
    const side = ["right", "right_up", "up", "left_up", "left", "left_down", "down", "right_down"][(turn + 8) % 8];
    return t(`approach.${side}`, { degrees: lean });
  },

  draw(pen, info, wide, high, colour) {
    const size = Math.min(132, wide * 0.34, high * 0.52);
    if (size < 70) return;
    const left = 6, top = high - size - 26;
    const { piece, ring, pass } = info;
    const [ax, ay, az] = this.seen(info);
    const flat = Math.hypot(ax, ay);
    // Along the lean, or along the piece where there is none.
    const [lx, ly] = flat > 0.05 ? [ax / flat, ay / flat] : [1, 0];
    const right = [lx + ly * pass.up[0], ly * pass.up[1], ly * pass.up[2]];
    const eye = [ly - lx * pass.up[0], -lx * pass.up[1], -lx * pass.up[2]];
    const near = [];
    const { join, centre } = piece.picture;
    const room = 700;   // hundredths of a mm
    for (let k = 0; k < piece.rings; k++) {
      if (Math.abs(centre[3 * k] - join[3 * ring]) < room && Math.abs(centre[3 * k + 1] - join[3 * ring + 1]) < room) near.push(k);
    }
    if (near.length > 400) return;
    const view = picture.poses(piece, near, [right, pass.toward, eye]);
    const me = near.indexOf(ring);
    pen.save();
    pen.beginPath();
    pen.rect(left, top, size, size);
    pen.fillStyle = colour("--paper");
    pen.fill();
    pen.clip();
    const scale = size / 11;
    const px = left + size * 0.4, py = top + size * 0.68;
    const sx = (x) => px + (x - view.jx[me]) * scale, sy = (y) => py - (y - view.jy[me]) * scale;
    const shut = picture.shut(info);
    picture.wires(pen, view, near.map((_, at) => at), sx, sy, scale, colour, (at) => (at === me ? TARGET : shut(near[at]) ? SHUT : BARE));
    this.cone(pen, px, py, flat, az, scale, colour);
    pen.restore();
    pen.strokeStyle = colour("--line");
    pen.lineWidth = 1.5;
    pen.strokeRect(left, top, size, size);
    pen.font = "600 13px system-ui, sans-serif";
    pen.textAlign = "left";
    const degrees = Math.round(Math.atan2(flat, az) * 180 / Math.PI / 5) * 5;
    pen.fillStyle = colour("--paper");
    pen.fillRect(left + 2, top + size - 21, 34, 19);
    pen.fillStyle = colour("--ink");
    pen.fillText(`${degrees}°`, left + 6, top + size - 7);
  },

  cone(pen, x, y, flat, az, scale, colour) {
    const { half_angle_rad: angle, shank_mm: shank, stick_out_mm: out, holder_mm: holder } = content.electrode;
    const [dx, dy] = [flat, -az];
    const at = (along, across) => [x + (dx * along - dy * across) * scale, y + (dy * along + dx * across) * scale];
    const taper = Math.min(shank / 2 / Math.tan(angle), out);
    const outline = [[0, 0], [taper, shank / 2], [out, shank / 2], [out, holder / 2], [out + 6, holder / 2],
      [out + 6, -holder / 2], [out, -holder / 2], [out, -shank / 2], [taper, -shank / 2]];
    pen.beginPath();
    outline.forEach((point, k) => (k ? pen.lineTo(...at(...point)) : pen.moveTo(...at(...point))));
    pen.closePath();
    pen.fillStyle = colour("--electrode");
    pen.fill();
    pen.strokeStyle = colour("--ink");
    pen.lineWidth = 1.5;
    pen.stroke();
  },
};
