// The picture: marks, suggestions and ground drawn over it, a magnifier, mouse, touch and keys.

const SVG = 'http://www.w3.org/2000/svg';
const LOUPE_PX = 44; // so many pixels of a picture of 1280 are seen across the magnifier

function shape(name, attributes, ...children) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  node.append(...children);
  return node;
}

const twice = (path) => [shape('path', {d: path, class: 'under'}), shape('path', {d: path, class: 'over'})];

export class Picture {
  // `on` has click(px), hold(name), move(name, px, isFirst), take(proposal), key(event).
  constructor(marks, on) {
    this.marks = marks;
    this.on = on;
    this.stage = document.getElementById('stage');
    this.frame = document.getElementById('frame');
    this.overlay = document.getElementById('overlay');
    this.loupe = document.getElementById('loupe');
    this.window = document.getElementById('window');
    this.size = marks.start.size_px;
    this.cursor = [this.size[0] / 2, this.size[1] / 2];
    this.hover = null;
    this.zoom = 1;
    this.view = {};
    this.dragged = null;
    this.listen();
  }

  get perScreenPx() { return this.size[0] / (this.stage.clientWidth || this.size[0]); }

  at(event) {
    const box = this.frame.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width * this.size[0], (event.clientY - box.top) / box.height * this.size[1]];
  }

  get focus() {
    const held = this.marks.held && this.marks.get(this.marks.held);
    return held && held.px ? held.px : this.cursor;
  }

  listen() {
    const {stage, loupe, overlay} = this;
    stage.addEventListener('click', (event) => {
      if (this.justDragged) { this.justDragged = false; return; }
      this.tap(this.at(event));
    });
    stage.addEventListener('pointermove', (event) => {
      if (this.dragged) return;
      this.hover = event.pointerType === 'mouse' ? this.at(event) : null;
      this.drawLoupe();
    });
    stage.addEventListener('pointerleave', () => { this.hover = null; this.drawLoupe(); });
    stage.addEventListener('keydown', (event) => this.on.key(event));
    overlay.addEventListener('pointerdown', (event) => {
      const name = event.target.dataset && event.target.dataset.name;
      if (!name) return;
      event.preventDefault();
      stage.focus({preventScroll: true});
      const px = this.marks.get(name).px;
      const from = this.at(event);
      this.dragged = {name, off: [px[0] - from[0], px[1] - from[1]], moved: false, start: [event.clientX, event.clientY]};
      overlay.setPointerCapture(event.pointerId);
    });
    overlay.addEventListener('pointermove', (event) => {
      const drag = this.dragged;
      if (!drag) return;
      const far = Math.hypot(event.clientX - drag.start[0], event.clientY - drag.start[1]) > 3;
      if (!drag.moved && !far) return;
      if (!drag.moved) this.on.hold(drag.name);
      const at = this.at(event);
      this.on.move(drag.name, [at[0] + drag.off[0], at[1] + drag.off[1]], !drag.moved);
      drag.moved = true;
    });
    const stop = (event) => {
      const drag = this.dragged;
      if (!drag) return;
      this.dragged = null;
      this.justDragged = true;
      setTimeout(() => { this.justDragged = false; }, 50);
      if (!drag.moved && event.type === 'pointerup') this.tap(this.at(event));
    };
    overlay.addEventListener('pointerup', stop);
    overlay.addEventListener('pointercancel', stop);
    let pull = null;
    loupe.addEventListener('pointerdown', (event) => {
      pull = {x: event.clientX, y: event.clientY, first: true};
      this.hover = null;
      loupe.setPointerCapture(event.pointerId);
    });
    loupe.addEventListener('pointermove', (event) => {
      if (!pull) return;
      const perPx = LOUPE_PX * this.size[0] / 1280 / loupe.clientWidth;
      const px = [this.focus[0] - (event.clientX - pull.x) * perPx, this.focus[1] - (event.clientY - pull.y) * perPx];
      this.moveTo(px, pull.first);
      pull = {x: event.clientX, y: event.clientY, first: false};
    });
    loupe.addEventListener('pointerup', () => { pull = null; });
    loupe.addEventListener('pointercancel', () => { pull = null; });
    this.frame.addEventListener('load', () => this.draw());
    new ResizeObserver(() => this.draw()).observe(stage);
    for (const [id, factor] of [['smaller', 0.5], ['larger', 2]]) {
      document.getElementById(id).addEventListener('click', () => this.zoomTo(this.zoom * factor));
    }
  }

  // A click or a tap: takes a suggestion, holds a mark, or sets the next place, by what is nearest;
  // by place and not by what was hit, because gaining focus draws all anew between press and release.
  tap(px) {
    const {marks} = this;
    const away = (at) => Math.hypot(at[0] - px[0], at[1] - px[1]) / this.perScreenPx;
    const nearest = (points) => points.sort((one, other) => away(one.at) - away(other.at))[0];
    const isShown = document.getElementById('show-suggested').checked;
    const proposal = nearest((isShown ? marks.proposals : []).map((each) => ({at: each.image_px, each})));
    const mark = nearest(marks.placed.map((each) => ({at: each.px, each})));
    this.hover = null;
    this.cursor = px;
    if (proposal && away(proposal.at) <= 11 && !(mark && away(mark.at) < away(proposal.at))) {
      this.cursor = [...proposal.at];
      this.on.take(proposal.each);
    } else if (mark && away(mark.at) <= (marks.next ? 6 : 14)) this.on.hold(mark.each.name);
    else this.on.click(px);
  }

  // Move the held mark, or the cross.
  moveTo(px, isFirst) {
    if (this.marks.held) this.on.move(this.marks.held, px, isFirst);
    else {
      this.cursor = [Math.min(Math.max(px[0], 0), this.size[0]), Math.min(Math.max(px[1], 0), this.size[1])];
      this.draw();
    }
  }

  zoomTo(zoom) {
    this.zoom = Math.min(Math.max(zoom, 1), 8);
    this.stage.style.width = `${100 * this.zoom}%`;
    document.getElementById('zoom').value = `${this.zoom}x`;
    const perPx = 1 / this.perScreenPx;
    this.window.scrollTo(this.focus[0] * perPx - this.window.clientWidth / 2, this.focus[1] * perPx - this.window.clientHeight / 2);
    this.draw();
  }

  draw() {
    const {marks, overlay, view} = this;
    const s = this.perScreenPx;
    const wrong = new Set(view.wrong || []);
    const drawn = [];
    if (document.getElementById('show-grid').checked) {
      for (const line of view.grid || []) drawn.push(shape('polyline', {points: line.join(' '), class: 'grid'}));
    }
    if (document.getElementById('show-suggested').checked) {
      for (const proposal of marks.proposals) {
        const [x, y] = proposal.image_px;
        const r = 9 * s;
        drawn.push(shape('g', {class: 'dashed'}, ...twice(`M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`)));
      }
    }
    const cross = (x, y, from, to) => `M${x - to * s} ${y}H${x - from * s}M${x + from * s} ${y}H${x + to * s}M${x} ${y - to * s}V${y - from * s}M${x} ${y + from * s}V${y + to * s}`;
    for (const place of marks.placed) {
      const [x, y] = place.px;
      const seen = (view.seen_px || {})[place.name];
      const kind = [place.name === marks.held ? 'held' : '', wrong.has(place.name) ? 'wrong' : ''].join(' ');
      const parts = twice(cross(x, y, 2.5, 11));
      if (seen) parts.push(...twice(`M${x} ${y}L${seen[0]} ${seen[1]}`));
      const label = shape('text', {x: x + 8 * s, y: y - 8 * s, 'font-size': 14 * s, 'stroke-width': 3.5 * s});
      label.textContent = String(marks.places.indexOf(place) + 1);
      const grip = shape('circle', {cx: x, cy: y, r: 14 * s, class: 'grip'});
      grip.dataset.name = place.name;
      drawn.push(shape('g', {class: kind}, ...parts, label, grip));
    }
    if (!marks.held && document.activeElement === this.stage) {
      drawn.push(shape('g', {class: 'cross'}, ...twice(cross(...this.cursor, 0, 16))));
    }
    overlay.replaceChildren(...drawn);
    this.drawLoupe();
  }

  drawLoupe() {
    const canvas = this.loupe;
    const pen = canvas.getContext('2d');
    const [x, y] = this.hover || this.focus;
    const across = LOUPE_PX * this.size[0] / 1280;
    const scale = canvas.width / across;
    pen.fillStyle = '#222';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    if (this.frame.complete && this.frame.naturalWidth) {
      pen.imageSmoothingEnabled = false;
      pen.setTransform(scale, 0, 0, scale, canvas.width / 2 - x * scale, canvas.height / 2 - y * scale);
      pen.drawImage(this.frame, 0, 0, this.size[0], this.size[1]);
      pen.setTransform(1, 0, 0, 1, 0, 0);
    }
    const middle = canvas.width / 2;
    for (const [width, colour] of [[8, '#000'], [4, '#ffe14d']]) {
      pen.lineWidth = width;
      pen.strokeStyle = colour;
      pen.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        pen.moveTo(middle + dx * 12, middle + dy * 12);
        pen.lineTo(middle + dx * middle * 0.6, middle + dy * middle * 0.6);
      }
      pen.stroke();
    }
  }
}
