// The places to be marked and where they were clicked, with undo. Knows nothing of the page.

export class Marks {
  constructor(start) {
    this.start = start;
    this.places = []; // {name, title, field_m, u_m, px: [x, y] or null, u_px, from}
    this.next = null; // name of the place that a click sets
    this.held = null; // name of the mark that arrows move
    this.history = [];
    this.load();
  }

  load() {
    const known = Object.entries(this.start.goals);
    const isSame = (mark, place) => mark.name === place.name
      && mark.field_m.every((value, i) => Math.abs(value - place.field_m[i]) < 1e-6);
    const [goal] = known.find(([, places]) => this.start.marks.some(
      (mark) => places.some((place) => isSame(mark, place)))) || [this.start.goal || ''];
    const [crease] = Object.entries(this.start.creases).find(([, places]) => this.start.marks.some(
      (mark) => places.some((place) => isSame(mark, place)))) || [''];
    this.choose('goal', goal);
    this.choose('crease', crease);
    for (const mark of this.start.marks) {
      const place = this.get(mark.name);
      const at = {px: [...mark.image_px], u_px: mark.uncertainty_px, u_m: mark.uncertainty_m};
      if (place && isSame(mark, place)) Object.assign(place, at);
      else this.add({name: mark.name, title: mark.name, field_m: [...mark.field_m], from: 'typed', ...at});
    }
    this.history = [];
    this.held = null;
    this.advance();
  }

  get(name) { return this.places.find((place) => place.name === name) || null; }
  get placed() { return this.places.filter((place) => place.px); }

  remember() {
    this.history.push(JSON.stringify([this.places, this.next, this.held, this.goal, this.crease]));
    if (this.history.length > 200) this.history.shift();
  }

  undo() {
    if (!this.history.length) return false;
    [this.places, this.next, this.held, this.goal, this.crease] = JSON.parse(this.history.pop());
    return true;
  }

  // The points of a goal or a crease; other points of it that were set stay where they were clicked.
  choose(from, key) {
    const before = this.places.filter((place) => place.from === from);
    const others = this.places.filter((place) => place.from !== from);
    const taken = new Set(others.map((place) => place.name));
    const points = (this.start[`${from}s`][key] || []).filter((place) => !taken.has(place.name));
    const made = points.map((place) => {
      const old = before.find((each) => each.name === place.name);
      return {...place, field_m: [...place.field_m], from, px: old ? old.px : null, u_px: old ? old.u_px : null};
    });
    this[from] = key;
    this.places = from === 'goal' ? [...made, ...others] : [...others, ...made];
    this.advance();
  }

  freeName(wanted) {
    let name = wanted;
    for (let i = 2; this.get(name); i += 1) name = `${wanted}_${i}`;
    return name;
  }

  add(place) {
    this.places.push({px: null, u_px: null, from: 'typed', ...place});
    if (!this.next) this.next = place.name;
  }

  remove(name) {
    this.places = this.places.filter((place) => place.name !== name);
    if (this.held === name) this.held = null;
    this.advance();
  }

  set(name, px) {
    const place = this.get(name);
    const [width, height] = this.start.size_px;
    const round = (value, most) => Math.round(Math.min(Math.max(value, 0), most) * 10) / 10;
    place.px = [round(px[0], width), round(px[1], height)];
  }

  clear(name) {
    this.get(name).px = null;
    if (this.held === name) this.held = null;
    this.next = name;
  }

  // The next place is the one chosen, if it is still open, else the first that is open.
  advance() {
    const now = this.next && this.get(this.next);
    if (!now || now.px) this.next = (this.places.find((place) => !place.px) || {name: null}).name;
    if (this.held && !(this.get(this.held) || {}).px) this.held = null;
  }

  // Suggestions that no mark has taken.
  get proposals() {
    const near = 8 * this.start.size_px[0] / 1280;
    return this.start.proposals.filter(({image_px}) => !this.placed.some(
      ({px}) => Math.hypot(px[0] - image_px[0], px[1] - image_px[1]) < near));
  }

  // What a click on a suggestion sets: its own point of the goal, or the next other place.
  placeFor(proposal) {
    if (proposal.kind !== 'cone_foot') {
      const place = this.get(proposal.kind);
      return place && place.from === 'goal' && !place.px ? place : null;
    }
    const next = this.next && this.get(this.next);
    if (next && next.from === 'typed') return next;
    return this.places.find((place) => place.from === 'typed' && !place.px) || null;
  }

  toSend(clickGiveOrTakePx) {
    return {marks: this.placed.map((place) => ({
      name: place.name,
      field_m: place.field_m,
      image_px: place.px,
      uncertainty_px: place.u_px ?? clickGiveOrTakePx / 2,
      uncertainty_m: place.u_m,
    }))};
  }
}
