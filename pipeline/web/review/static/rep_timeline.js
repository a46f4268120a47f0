// The time line under the film: where it is, the feet on the ground, and the events to be dragged.

const SVG = 'http://www.w3.org/2000/svg';
const SETTLES_MS = 700;
const TAKEN_PX = 22;

function make(name, properties, ...children) {
  const node = Object.assign(document.createElement(name), properties);
  node.append(...children);
  return node;
}

export class TimeLine {
  constructor(root, on) {
    this.root = root;
    this.on = on; // {seek(frame), moved(name, frame), at(frame) -> words, text(key)}
    this.motion = null;
    this.frame = null;
    this.pending = new Map(); // events on their way by keys
    this.scrub = make('input', {type: 'range', className: 'scrub', step: 1});
    this.scrub.setAttribute('aria-label', on.text('scrub'));
    this.scrub.addEventListener('input', () => on.seek(Number(this.scrub.value)));
    this.lane = make('div', {className: 'lane'});
    this.feet = document.createElementNS(SVG, 'svg');
    this.feet.setAttribute('class', 'ground');
    this.feet.setAttribute('preserveAspectRatio', 'none');
    this.feet.setAttribute('aria-hidden', 'true');
    this.head = make('div', {className: 'head'});
    this.span = make('div', {className: 'span'});
    root.replaceChildren(this.scrub, this.lane, make('div', {className: 'feet-lane'}, make('span', {className: 'foot-name', textContent: on.text('feet_lane')}), this.feet));
    this.dragged = null; // the event that goes with the finger
    this.lane.addEventListener('pointerdown', (press) => this.take(press));
    this.lane.addEventListener('pointermove', (press) => this.drag(press));
    this.lane.addEventListener('pointerup', () => this.drop());
    this.lane.addEventListener('pointercancel', () => this.drop(true));
    new ResizeObserver(() => this.levels()).observe(this.lane);
  }

  // Events may lie so near together that one is over the other: the nearest is taken.
  take(press) {
    if (!this.motion || press.button !== 0) return;
    press.preventDefault();
    const at = this.pointed(press);
    const away = (one) => Math.abs(one.frame - at) * this.lane.clientWidth / Math.max(1, this.last - this.motion.first);
    const nearest = [...this.handles].sort((a, b) => away(a) - away(b))[0];
    if (!nearest || away(nearest) > TAKEN_PX) { this.on.seek(Math.round(at)); return; }
    this.lane.setPointerCapture(press.pointerId);
    this.dragged = {one: nearest, off: nearest.frame - at};
    nearest.node.focus({preventScroll: true});
    nearest.node.classList.add('held');
    this.on.seek(nearest.frame);
  }

  drag(press) {
    if (!this.dragged) return;
    const {one, off} = this.dragged;
    const frame = one.frame;
    this.put(one, Math.round(this.pointed(press) + off));
    if (one.frame !== frame) this.on.seek(one.frame);
  }

  drop(isCancelled = false) {
    if (!this.dragged) return;
    const {one} = this.dragged;
    this.dragged = null;
    one.node.classList.remove('held');
    if (isCancelled) this.put(one, one.event.frame);
    else this.settle(one);
    this.levels();
  }

  pointed(press) {
    const box = this.lane.getBoundingClientRect();
    return this.motion.first + (press.clientX - box.left) / box.width * (this.last - this.motion.first);
  }

  use(motion) {
    this.motion = motion;
    const last = motion.first + motion.time_s.length - 1;
    Object.assign(this.scrub, {min: motion.first, max: last});
    const focused = document.activeElement && document.activeElement.dataset && document.activeElement.dataset.event;
    this.handles = motion.events.map((event) => this.handle(event));
    this.lane.replaceChildren(this.span, this.head, ...this.handles.map((one) => one.node));
    const again = this.handles.find((one) => one.event.name === focused);
    if (again) again.node.focus({preventScroll: true});
    this.ground();
    this.span.style.left = `${this.share(motion.rep[0])}%`;
    this.span.style.width = `${this.share(motion.rep[1]) - this.share(motion.rep[0])}%`;
    this.levels();
    this.show(this.frame);
  }

  get last() { return this.motion.first + this.motion.time_s.length - 1; }

  share(frame) {
    return 100 * (frame - this.motion.first) / Math.max(1, this.last - this.motion.first);
  }

  handle(event) {
    const name = make('span', {className: 'event-name', textContent: event.title});
    const node = make('div', {className: `event${event.by_coach ? ' by-coach' : ''}`, tabIndex: 0}, name);
    node.dataset.event = event.name;
    node.setAttribute('role', 'slider');
    node.setAttribute('aria-label', event.by_coach ? `${event.title}, ${this.on.text('by_coach')}` : event.title);
    node.setAttribute('aria-valuemin', event.room[0]);
    node.setAttribute('aria-valuemax', event.room[1]);
    const one = {event, node, name, frame: event.frame};
    this.put(one, event.frame);
    node.addEventListener('keydown', (press) => this.key(one, press));
    node.addEventListener('blur', () => this.settle(one));
    node.addEventListener('focus', () => { if (!this.dragged) this.on.seek(one.frame); });
    return one;
  }

  key(one, press) {
    const ways = {ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -5, PageUp: 5};
    let frame = null;
    if (press.key in ways) frame = one.frame + ways[press.key];
    else if (press.key === 'Home') frame = one.event.room[0];
    else if (press.key === 'End') frame = one.event.room[1];
    else if (press.key === 'Escape') frame = one.event.frame;
    else if (press.key === 'Enter') { this.settle(one); press.preventDefault(); return; } else return;
    press.preventDefault();
    press.stopPropagation();
    this.put(one, frame);
    this.on.seek(one.frame);
    clearTimeout(this.pending.get(one.event.name));
    this.pending.set(one.event.name, setTimeout(() => this.settle(one), SETTLES_MS));
  }

  settle(one) {
    clearTimeout(this.pending.get(one.event.name));
    this.pending.delete(one.event.name);
    if (one.frame === one.event.frame) return;
    this.on.moved(one.event.name, one.frame);
    one.event = {...one.event, frame: one.frame}; // not told twice
  }

  put(one, frame) {
    const low = Math.max(one.event.room[0], this.motion.first);
    const high = Math.min(one.event.room[1], this.last);
    one.frame = Math.min(Math.max(frame, low), high);
    one.node.style.left = `${this.share(one.frame)}%`;
    one.node.setAttribute('aria-valuenow', one.frame);
    one.node.setAttribute('aria-valuetext', this.on.at(one.frame));
  }

  // Names beside each other where there is room, else below each other.
  levels() {
    if (!this.handles) return;
    const ends = [];
    const wide = this.lane.clientWidth;
    for (const one of [...this.handles].sort((a, b) => a.frame - b.frame)) {
      const middle = wide * this.share(one.frame) / 100;
      const half = one.name.offsetWidth / 2;
      const shift = Math.min(Math.max(0, half - middle), half) - Math.min(Math.max(0, middle + half - wide), half);
      one.name.style.marginLeft = `${2 * shift}px`;
      let level = 0;
      while (level < 3 && ends[level] !== undefined && ends[level] > middle + shift - half - 6) level += 1;
      ends[level] = middle + shift + half;
      one.node.dataset.level = level;
    }
    this.lane.dataset.levels = ends.length;
  }

  ground() {
    const {motion} = this;
    this.feet.setAttribute('viewBox', `0 0 ${Math.max(1, motion.time_s.length - 1)} 16`);
    this.feet.replaceChildren();
    ['left', 'right'].forEach((foot, i) => {
      for (const [start, stop] of motion.contacts[foot]) {
        const bar = document.createElementNS(SVG, 'rect');
        bar.setAttribute('class', foot);
        bar.setAttribute('x', start - motion.first);
        bar.setAttribute('y', 1 + 8 * i);
        bar.setAttribute('width', Math.max(0.6, stop - start));
        bar.setAttribute('height', 6);
        this.feet.append(bar);
      }
    });
  }

  show(frame) {
    this.frame = frame;
    if (frame === null || !this.motion) return;
    if (document.activeElement !== this.scrub || Number(this.scrub.value) !== frame) this.scrub.value = frame;
    this.scrub.setAttribute('aria-valuetext', this.on.at(frame));
    this.head.style.left = `${this.share(frame)}%`;
  }

  // The nearest event before or after a frame.
  beside(frame, way) {
    const frames = this.motion.events.map((event) => event.frame).sort((a, b) => a - b);
    if (way > 0) return frames.find((one) => one > frame) ?? null;
    return frames.reverse().find((one) => one < frame) ?? null;
  }
}
