// Joins the picture, the list of marks and the forms, and asks the program for the camera.

import {Marks} from './marks.js';
import {Picture} from './picture.js';

const by = (id) => document.getElementById(id);
const start = JSON.parse(by('start').textContent);
const marks = new Marks(start);

function make(name, properties, ...children) {
  const node = Object.assign(document.createElement(name), properties);
  node.append(...children);
  return node;
}

// What is said stands in the program's catalogue of texts.
const text = (key, values = {}) => start.texts[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
const number = (value, decimals) => (decimals === undefined ? String(value) : value.toFixed(decimals)).replace('.', start.decimal);
const where = ([x, y], decimals = 1) => text('at_px', {x: number(x, decimals), y: number(y, decimals)});

const on = {
  click(px) {
    if (!marks.next) { announce(text('all_set')); return; }
    marks.remember();
    place(marks.next, px);
  },
  hold(name) { marks.held = name; announce(text('held', {title: marks.get(name).title})); show(); },
  move(name, px, isFirst) {
    if (isFirst) marks.remember();
    marks.set(name, px);
    changed();
  },
  take(proposal) {
    const found = marks.placeFor(proposal);
    if (!found) {
      announce(proposal.kind === 'cone_foot' ? text('cone_first')
        : text('goal_first'));
      return;
    }
    marks.remember();
    place(found.name, proposal.image_px);
  },
  key(event) {
    const step = event.shiftKey ? 10 : 1;
    const ways = {ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step]};
    if (ways[event.key]) nudge(ways[event.key], event.repeat);
    else if (event.key === 'Enter') fix();
    else if (event.key === 'Escape') { marks.held = null; show(); }
    else if ((event.key === 'Delete' || event.key === 'Backspace') && marks.held) takeOff(marks.held);
    else if (event.key === 'z' && (event.ctrlKey || event.metaKey)) undo();
    else return;
    event.preventDefault();
  },
};
const picture = new Picture(marks, on);

function announce(words) { by('said').textContent = words; }

function place(name, px) {
  marks.set(name, px);
  marks.held = name;
  marks.advance();
  const next = marks.next && marks.get(marks.next);
  const set = {title: marks.get(name).title, place: where(marks.get(name).px), next: next && next.title};
  announce(text(next ? 'set_next' : 'set_last', set));
  changed();
}

function nudge(way, isRepeat) {
  const [x, y] = picture.focus;
  picture.moveTo([x + way[0], y + way[1]], !isRepeat);
  announce(`${marks.held ? marks.get(marks.held).title : text('cross')}: ${where(picture.focus)}`);
}

function fix() {
  if (marks.held) {
    picture.cursor = [...picture.focus];
    marks.held = null;
    const next = marks.next && marks.get(marks.next);
    announce(next ? text('left_next', {next: next.title}) : text('left_last'));
    show();
  } else on.click([...picture.cursor]);
}

function takeOff(name) {
  marks.remember();
  marks.clear(name);
  announce(text('taken_off', {title: marks.get(name).title}));
  changed();
}

function undo() {
  if (!marks.undo()) { announce(text('nothing_to_undo')); return; }
  by('goal').value = marks.goal;
  by('crease').value = marks.crease;
  announce(text('undone'));
  changed();
}

// ---- what is shown

function show() {
  const next = by('next');
  const open = marks.places.filter((each) => !each.px);
  next.replaceChildren(...open.map((each) => make('option', {value: each.name, textContent: each.title, selected: each.name === marks.next})));
  if (!open.length) next.append(make('option', {value: '', textContent: text(marks.places.length ? 'everything_set' : 'add_first')}));
  by('no-places').hidden = marks.places.length > 0;
  const focused = document.activeElement && document.activeElement.id;
  by('list').replaceChildren(...marks.places.map(row));
  if (focused && by(focused)) by(focused).focus({preventScroll: true});
  showProposals();
  picture.draw();
}

function row(place, index) {
  const residual = (picture.view.residual_px || {})[place.name];
  const isWrong = (picture.view.wrong || []).includes(place.name);
  const state = !place.px ? text('not_set') : isWrong ? text('look_at')
    : residual === undefined ? text('is_set') : text('off_by', {off: number(residual, 1)});
  const button = (key, words, act) => {
    const node = make('button', {type: 'button', id: `${key}-${index}`, textContent: words, onclick: act});
    node.setAttribute('aria-label', `${words}: ${place.title}`);
    return node;
  };
  const buttons = [];
  if (place.px) {
    buttons.push(button('hold', text('move'), () => { marks.held = place.name; picture.stage.focus(); announce(text('move_it', {title: place.title})); show(); }));
    buttons.push(button('clear', text('take_off'), () => takeOff(place.name)));
  } else buttons.push(button('next', text('set_this_next'), () => { marks.next = place.name; marks.held = null; announce(text('next_click', {title: place.title})); show(); }));
  if (place.from === 'typed') buttons.push(button('remove', text('remove'), () => { marks.remember(); marks.remove(place.name); announce(text('removed')); changed(); }));
  const title = place.title === place.name ? place.name : place.title;
  const item = make('li', {className: [place.name === marks.held ? 'held' : '', isWrong ? 'wrong' : ''].join(' ')},
    make('div', {className: 'row'}, make('b', {textContent: `${index + 1}. ${title}`}), make('span', {className: 'state', textContent: state})));
  if (place.from === 'typed') {
    const field = (key, words, value, write) => make('label', {textContent: words}, make('input', {
      id: `${key}-${index}`, type: 'number', step: 'any', value,
      onchange: (event) => {
        const number = event.target.valueAsNumber;
        if (Number.isFinite(number)) { marks.remember(); write(number); changed(); } else event.target.value = value;
      },
    }));
    item.append(make('div', {className: 'small'},
      ...['right', 'away', 'up'].map((key, axis) => field(key, text(`${key}_short_m`), place.field_m[axis], (number) => { place.field_m[axis] = number; })),
      field('give', text('give_or_take'), Math.round(2e6 * place.u_m) / 1e6, (number) => { place.u_m = Math.abs(number) / 2; })));
  }
  item.append(make('div', {className: 'small'}, ...buttons));
  return item;
}

function showProposals() {
  const proposals = marks.proposals;
  by('suggested').hidden = !proposals.length;
  by('suggestions').replaceChildren(...proposals.map((proposal, index) => make('button', {
    type: 'button', id: `take-${index}`, textContent: text('use', {what: text(proposal.kind), place: where(proposal.image_px, 0)}),
    onclick: () => { picture.hover = null; picture.cursor = [...proposal.image_px]; on.take(proposal); },
    onfocus: () => { if (!marks.held) { picture.cursor = [...proposal.image_px]; picture.hover = null; picture.drawLoupe(); } },
  })));
}

// ---- the program

async function ask(path, body) {
  const answer = await fetch(path, {method: 'POST', headers: {'content-type': 'application/json'}, body: JSON.stringify(body)});
  if (!(answer.headers.get('content-type') || '').startsWith('application/json')) throw new Error(await answer.text());
  return answer.json();
}

const toSend = () => marks.toSend(Math.min(Math.max(by('click').valueAsNumber || 4, 0.2), 200));

let timer = 0;
let isAsking = false;
function changed() {
  picture.view = {};
  result(text('working'), 'few');
  show();
  clearTimeout(timer);
  timer = setTimeout(solve, 200);
}

async function solve() {
  // One at a time: to find out what is wrong takes the program some seconds.
  if (isAsking) return;
  isAsking = true;
  try {
    let sent = null;
    let view = null;
    while (sent !== JSON.stringify(toSend())) {
      sent = JSON.stringify(toSend());
      view = await ask('solve', JSON.parse(sent));
    }
    picture.view = view;
    result(view.words, view.state);
    by('grid-words').textContent = view.grid_m ? text('line_every', {step: number(view.grid_m)}) : '';
    show();
  } catch (error) { lost(error); }
  isAsking = false;
}

function result(words, state) {
  by('result').textContent = words;
  by('result').className = `result ${state}`;
}

function lost(error) {
  result(error instanceof TypeError ? text('no_answer') : error.message, 'wrong');
}

function done(words) {
  by('done').textContent = words;
  by('done').hidden = false;
  if (start.back) window.setTimeout(() => window.location.assign(start.back), 1500);
  document.querySelector('main').inert = true;
}

by('save').addEventListener('click', async () => {
  try {
    const answer = await ask('save', toSend());
    if (answer.saved) done(answer.words);
    else result(answer.words, 'wrong');
  } catch (error) { lost(error); }
});

by('close').addEventListener('click', async () => {
  if (marks.placed.length && !window.confirm(text('close_unsaved'))) return;
  try {
    await ask('close', {});
    done(text('closed'));
  } catch (error) { lost(error); }
});

// ---- the forms

for (const from of ['goal', 'crease']) {
  by(from).value = marks[from];
  by(from).addEventListener('change', () => { marks.remember(); marks.choose(from, by(from).value); changed(); });
}
by('next').addEventListener('change', () => { marks.next = by('next').value || null; marks.held = null; show(); });
by('how').addEventListener('change', () => { by('u').value = by('how').value; });
by('click').addEventListener('change', changed);
by('undo').addEventListener('click', undo);
by('fix').addEventListener('click', fix);
for (const [id, way] of [['up-1', [0, -1]], ['left-1', [-1, 0]], ['right-1', [1, 0]], ['down-1', [0, 1]]]) {
  by(id).addEventListener('click', () => nudge(way, false));
}
for (const id of ['show-grid', 'show-suggested']) by(id).addEventListener('change', () => picture.draw());
picture.stage.addEventListener('focus', () => picture.draw());
picture.stage.addEventListener('blur', () => picture.draw());

function isFull(more) {
  if (marks.places.length + more <= start.most_marks) return false;
  announce(text('full', {most: start.most_marks}));
  return true;
}

by('place').addEventListener('submit', (event) => {
  event.preventDefault();
  if (isFull(1)) return;
  const kind = text(`named_${by('kind').value}`);
  const typed = by('name').value.trim();
  const name = marks.freeName(typed || `${kind}_${1 + marks.places.filter((each) => each.name.startsWith(`${kind}_`)).length}`);
  marks.remember();
  marks.add({name, title: name, field_m: ['right', 'away', 'up'].map((id) => by(id).valueAsNumber), u_m: by('u').valueAsNumber / 2});
  marks.next = name;
  by('name').value = '';
  announce(text('added', {name}));
  changed();
});

by('square').addEventListener('submit', (event) => {
  event.preventDefault();
  if (isFull(4)) return;
  marks.remember();
  const [side, left, near] = ['side', 'left', 'near'].map((id) => by(id).valueAsNumber);
  const corners = [['near_left', 0, 0], ['near_right', 1, 0], ['far_left', 0, 1], ['far_right', 1, 1]];
  for (const [corner, right, away] of corners) {
    const name = marks.freeName(`${text('named_cone')}_${text(corner)}`);
    marks.add({name, title: name, field_m: [left + right * side, near + away * side, 0], u_m: 0.025});
  }
  announce(text('four_added'));
  changed();
});

show();
solve();
