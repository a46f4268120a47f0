// Joints and measures drawn over the film, for the frame that is shown.

const DARK = 'rgba(12, 18, 22, .85)';
const COLOURS = {height: '#ffc43d', ground: '#5ed6ff', step: '#5ed6ff', span: '#ff96be', point: '#ffc43d'};
const NEAR = 26;

export class Drawing {
  constructor(canvas, on) {
    this.canvas = canvas;
    this.on = on; // {moved(person, joint, px)}
    this.motion = null;
    this.frame = null;
    this.key = null; // the measure that is drawn
    this.showsBody = true;
    this.mends = false;
    this.joint = 0;
    this.zoom = 1;
    this.middleOf = [0.5, 0.5];
    this.held = null; // {person, joint, px}
    canvas.addEventListener('pointerdown', (event) => this.down(event));
    canvas.addEventListener('pointermove', (event) => this.move(event));
    canvas.addEventListener('pointerup', () => this.up());
    canvas.addEventListener('pointercancel', () => { this.held = null; this.draw(); });
    new ResizeObserver(() => this.draw()).observe(canvas);
  }

  get scale() { return this.canvas.clientWidth / this.motion.size_px[0]; }

  place(person, joint) {
    if (this.held && this.held.person === person && this.held.joint === joint) return this.held.px;
    const i = this.frame - this.motion.first;
    const point = ((this.motion.people[person] || [])[i] || [])[joint];
    return point && point[0] !== null ? point : null;
  }

  // The part of the picture that is in sight, larger than life: it goes with the athlete's hips.
  look() {
    const {motion, canvas} = this;
    const layer = canvas.parentElement;
    if (this.held) return;
    const size = `${100 * this.zoom}%`;
    if (layer.style.width !== size) Object.assign(layer.style, {width: size, height: size});
    let [x, y] = this.middleOf;
    if (motion && this.frame !== null && this.zoom > 1) {
      const [hips, chest] = [['left_hip', 'right_hip'], ['left_shoulder', 'right_shoulder']].map(
        (pair) => this.middle(pair.map((name) => motion.joints.indexOf(name))));
      if (hips) [x, y] = [hips[0] / motion.size_px[0], (chest ? (hips[1] + chest[1]) / 2 : hips[1]) / motion.size_px[1]];
    }
    this.middleOf = [x, y];
    const shift = (at) => -100 * Math.min(Math.max(at * this.zoom - 0.5, 0), this.zoom - 1);
    Object.assign(layer.style, {left: `${shift(x)}%`, top: `${shift(y)}%`});
  }

  // Left, top, width and height of what is in sight, in units of the canvas.
  get sight() {
    const stage = this.canvas.parentElement.parentElement;
    const layer = this.canvas.parentElement;
    return [-layer.offsetLeft, -layer.offsetTop, stage.clientWidth, stage.clientHeight];
  }

  draw() {
    const {canvas, motion} = this;
    this.look();
    const ratio = window.devicePixelRatio || 1;
    const size = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
    if (canvas.width !== size[0] || canvas.height !== size[1]) [canvas.width, canvas.height] = size;
    const pen = canvas.getContext('2d');
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, canvas.width, canvas.height);
    canvas.dataset.frame = this.frame === null || !motion ? '' : String(this.frame);
    if (!motion || this.frame === null) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.lineCap = 'round';
    pen.lineJoin = 'round';
    if (this.showsBody || this.mends) {
      for (let person = motion.people.length - 1; person >= 0; person -= 1) this.body(pen, person);
    }
    if (this.mends) this.joints(pen);
    if (this.key) this.measure(pen, this.key);
  }

  line(pen, points, colour, width) {
    const known = points.filter(Boolean);
    if (known.length < 2) return;
    for (const [ink, wide] of [[DARK, width + 2.5], [colour, width]]) {
      pen.beginPath();
      known.forEach(([x, y], i) => (i ? pen.lineTo(x * this.scale, y * this.scale) : pen.moveTo(x * this.scale, y * this.scale)));
      pen.strokeStyle = ink;
      pen.lineWidth = wide;
      pen.stroke();
    }
  }

  dot(pen, [x, y], colour, size) {
    pen.beginPath();
    pen.arc(x * this.scale, y * this.scale, size, 0, 2 * Math.PI);
    pen.fillStyle = colour;
    pen.strokeStyle = DARK;
    pen.lineWidth = 1.5;
    pen.fill();
    pen.stroke();
  }

  body(pen, person) {
    const colour = person ? '#aabecd' : '#ffffff';
    for (const [a, b] of this.motion.bones) this.line(pen, [this.place(person, a), this.place(person, b)], colour, 2);
    const nose = this.place(person, 0);
    if (nose) this.dot(pen, nose, colour, 2.5);
  }

  joints(pen) {
    for (let joint = 0; joint < this.motion.joints.length; joint += 1) {
      const at = this.place(0, joint);
      const isIt = joint === this.joint;
      if (at) this.dot(pen, at, isIt ? '#ffc43d' : '#ffffff', (isIt ? 7 : 4.5) * (this.sight[2] * this.zoom < 700 ? 0.6 : 1));
    }
  }

  measure(pen, key) {
    const {motion} = this;
    const line = motion.lines[key];
    let at = null;
    if (line) {
      const ends = line.ends[line.ends.length > 1 ? this.frame - motion.first : 0];
      const [start, stop] = (ends || []).map((end) => (end[0] === null ? null : end));
      if (start && stop) {
        this.line(pen, [start, stop], COLOURS[line.kind], 4);
        this.ends(pen, line.kind, start, stop);
        at = [(start[0] + stop[0]) / 2, (start[1] + stop[1]) / 2];
      }
    } else if (motion.limbs[key]) {
      for (const limb of motion.limbs[key]) {
        const points = limb.map((corner) => this.middle(corner));
        this.line(pen, points, '#ffc43d', 4.5);
        at = at || points.filter(Boolean)[0] || null;
      }
    }
    if (at && motion.numbers[key]) this.label(pen, motion.numbers[key], at);
  }

  middle(corner) {
    const points = corner.map((joint) => this.place(0, joint));
    if (points.some((point) => !point)) return null;
    return [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
  }

  // Told apart by shape as well: bars at the ends, dots at the ends, an arrow, none.
  ends(pen, kind, start, stop) {
    if (kind === 'height') {
      const bar = 9 / this.scale;
      for (const [x, y] of [start, stop]) this.line(pen, [[x - bar, y], [x + bar, y]], COLOURS.height, 4);
    } else if (kind === 'ground') {
      for (const end of [start, stop]) this.dot(pen, end, COLOURS.ground, 5);
    } else if (kind === 'step') {
      const way = Math.atan2(stop[1] - start[1], stop[0] - start[0]);
      const wing = (turn) => [stop[0] - 12 / this.scale * Math.cos(way + turn), stop[1] - 12 / this.scale * Math.sin(way + turn)];
      this.line(pen, [wing(0.5), stop, wing(-0.5)], COLOURS.step, 4);
    }
  }

  label(pen, words, [x, y]) {
    const [fromLeft, fromTop, width, height] = this.sight;
    pen.font = '600 14px system-ui, sans-serif';
    const lines = words.length * 7.2 > width * 0.55 ? words.split(', ') : [words];
    const wide = Math.max(...lines.map((line) => pen.measureText(line).width)) + 14;
    const high = lines.length * 18 + 8;
    // In a small picture it would lie over the athlete: there it goes into a corner.
    const isSmall = width < 520;
    const beside = isSmall ? width : x * this.scale - fromLeft + 14;
    const level = isSmall ? 0 : y * this.scale - fromTop - high / 2;
    const left = fromLeft + Math.min(Math.max(beside, 4), Math.max(4, width - wide - 4));
    const top = fromTop + Math.min(Math.max(level, 4), Math.max(4, height - high - 4));
    pen.fillStyle = DARK;
    pen.fillRect(left, top, wide, high);
    pen.fillStyle = '#ffffff';
    lines.forEach((line, i) => pen.fillText(line, left + 7, top + 18 + 18 * i));
  }

  // ---- putting a joint in its place

  point(event) {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) / this.scale, (event.clientY - box.top) / this.scale];
  }

  down(event) {
    if (!this.mends || this.frame === null) return;
    const at = this.point(event);
    let best = null;
    for (let joint = 0; joint < this.motion.joints.length; joint += 1) {
      const place = this.place(0, joint);
      if (!place) continue;
      const away = Math.hypot(place[0] - at[0], place[1] - at[1]) * this.scale;
      if (away < NEAR && (!best || away < best.away)) best = {joint, away, place};
    }
    if (!best) return;
    event.preventDefault();
    this.canvas.setPointerCapture(event.pointerId);
    this.joint = best.joint;
    this.held = {person: 0, joint: best.joint, px: best.place, off: [best.place[0] - at[0], best.place[1] - at[1]], moved: false};
    this.on.chosen(best.joint);
    this.draw();
  }

  move(event) {
    if (!this.held) return;
    const at = this.point(event);
    this.held.px = [at[0] + this.held.off[0], at[1] + this.held.off[1]];
    this.held.moved = true;
    this.draw();
  }

  up() {
    const {held} = this;
    if (!held) return;
    if (held.moved) this.on.moved(held.person, held.joint, held.px);
    else this.held = null;
    this.draw();
  }

  nudge(way) {
    const place = this.place(0, this.joint);
    if (!place) return;
    this.held = {person: 0, joint: this.joint, px: [place[0] + way[0], place[1] + way[1]], off: [0, 0], moved: true};
    this.draw();
  }

  settle() { this.held = null; this.draw(); }
}
