// Joins the film, the drawing over it, the time line and the numbers, and tells the program changes.

import {Film} from './rep_film.js';
import {Drawing} from './rep_drawing.js';
import {TimeLine} from './rep_timeline.js';

const by = (id) => document.getElementById(id);
const start = JSON.parse(by('start').textContent);
const text = (key, values = {}) => start.texts[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
const announce = (words) => { by('said').textContent = words; };
const ASK_AGAIN_MS = 1500;

let motion = null;
let key = null; // the measure that is drawn
let busy = 0;

const video = by('film');
const hasFilm = video !== null;

// ---- the film

function secondsAt(frame) {
  const time = motion.time_s[Math.min(Math.max(frame - motion.first, 0), motion.time_s.length - 1)];
  return text('at', {time: time.toFixed(2).replace('.', start.decimal), frame: frame + 1});
}

const on = {
  frame(frame) {
    if (!motion) return;
    drawing.frame = frame;
    drawing.draw();
    line.show(frame);
    by('where').textContent = frame === null ? '\u00a0' : secondsAt(frame);
  },
  state() {
    const name = text(video.paused ? 'play' : 'halt');
    by('play').setAttribute('aria-label', name);
    by('play').title = `${name} (${text('space')})`;
    by('play').classList.toggle('plays', !video.paused);
  },
};
const film = hasFilm ? new Film(video, on) : null;
const drawing = hasFilm ? new Drawing(by('drawing'), {
  chosen(joint) { by('joint').value = joint; },
  moved(person, joint, px) { moveJoint(person, joint, px); },
}) : null;
const line = new TimeLine(by('time-line'), {
  seek(frame) { if (film) { video.pause(); film.seek(frame); } },
  moved(name, frame) { change({kind: 'event', name, frame}); },
  at: secondsAt,
  text,
});

function source(which) {
  const times = which === 'copy' ? motion.copy_s : motion.film_s;
  if (!times) return;
  const frame = film.shown ?? Math.max(motion.rep[0], motion.first);
  const isOpen = video.dataset.which === which;
  video.dataset.which = which;
  by('which').value = which;
  film.use(times, motion.first);
  if (isOpen) { film.seek(frame); return; }
  video.src = `${start.clip}/${which}#t=${film.secondsOf(frame).toFixed(4)}`;
  video.playbackRate = Number(by('speed').value);
  video.addEventListener('loadedmetadata', () => { video.playbackRate = Number(by('speed').value); }, {once: true});
}

async function askForCopy(path) {
  const answer = await fetch(`${start.clip}/copy/${path}`, {method: path === 'make' ? 'POST' : 'GET'});
  const {state} = await answer.json();
  if (state === 'ready') {
    motion.copy_s = (await ask('motion')).copy_s;
    announce('');
    source('copy');
  } else if (state === 'making') {
    announce(text(motion.film_s ? 'copy_asked' : 'copy_made'));
    setTimeout(() => askForCopy('state'), ASK_AGAIN_MS);
  } else announce(text('copy_failed'));
}

// ---- what the program knows

async function ask(path, body) {
  const how = body === undefined ? {} : {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify(body)};
  const answer = await fetch(`${start.address}/${path}`, how);
  const table = await answer.json();
  if (!answer.ok) throw new Error(table.words);
  return table;
}

function use(answer) {
  const isFirst = motion === null;
  motion = answer;
  const focused = document.activeElement && document.activeElement.id;
  by('numbers').innerHTML = answer.rows;
  by('changes').innerHTML = answer.changes;
  if (focused && focused.startsWith('number-') && by(focused)) by(focused).focus({preventScroll: true});
  if (film) {
    drawing.motion = answer;
    drawing.held = null;
    film.span = [Math.max(answer.rep[0], answer.first), Math.min(answer.rep[1], answer.first + answer.time_s.length - 1)];
  }
  by('time-line').hidden = false;
  line.use(answer);
  draws(key);
  if (isFirst && film) begin();
  else if (drawing) drawing.draw();
}

function begin() {
  by('stage').style.aspectRatio = `${motion.size_px[0]} / ${motion.size_px[1]}`;
  by('controls').hidden = false;
  by('mend').hidden = false;
  by('joint').replaceChildren(...motion.joints.map((name, i) => Object.assign(document.createElement('option'), {value: i, textContent: text(`joint_${name}`)})));
  by('which').parentElement.hidden = false;
  by('which').querySelector('[value=film]').disabled = !motion.film_s;
  if (motion.film_s) source('film');
  else if (motion.copy_s) source('copy');
  else askForCopy('make');
}

async function send(path, body, done) {
  busy += 1;
  document.body.setAttribute('aria-busy', 'true');
  try {
    use(await ask(path, body));
    announce(done);
  } catch (error) {
    announce(error.message);
    if (motion) { line.use(motion); if (drawing) drawing.settle(); }
  } finally {
    busy -= 1;
    if (!busy) document.body.removeAttribute('aria-busy');
  }
}

const change = (what) => send('change', what, text('changed'));

function moveJoint(person, joint, px) {
  const [x, y] = px.map((value) => Math.round(value * 10) / 10);
  change({kind: 'joint', name: motion.joints[joint], frame: drawing.frame, person, at_px: [x, y]});
}

// ---- a number is chosen: its line is drawn

function draws(name) {
  key = name;
  if (!motion) return;
  const read = key ? motion.read[key] : null;
  by('read').textContent = read ? text('read_in', {first: read[0] + 1, last: read[1] + 1}) : '';
  for (const row of by('numbers').querySelectorAll('[data-key]')) {
    const isIt = row.dataset.key === key;
    row.classList.toggle('drawn', isIt);
    row.querySelector('button').setAttribute('aria-pressed', String(isIt));
  }
  if (drawing) { drawing.key = key; drawing.draw(); }
}

by('numbers').addEventListener('focusin', (event) => {
  const row = event.target.closest('[data-key]');
  if (row) draws(row.dataset.key);
});
by('numbers').addEventListener('click', (event) => {
  const row = event.target.closest('[data-key]');
  if (!row) return;
  draws(row.dataset.key);
  const read = motion && motion.read[row.dataset.key];
  if (read && film) { video.pause(); film.seek(Math.round((read[0] + read[1]) / 2)); }
});
by('changes').addEventListener('click', (event) => {
  const id = event.target.dataset.undo;
  if (id) send('undo', {id: Number(id)}, text('undone'));
});

// ---- buttons and keys

const toggled = (id) => {
  const isOn = by(id).getAttribute('aria-pressed') !== 'true';
  by(id).setAttribute('aria-pressed', String(isOn));
  return isOn;
};

function loop() { film.loops = toggled('loop'); }

function toEvent(way) {
  const frame = line.beside(film.frame, way);
  if (frame !== null) { video.pause(); film.seek(frame); }
}

if (film) {
  by('back').onclick = () => film.step(-1);
  by('forth').onclick = () => film.step(1);
  by('play').onclick = () => film.toggle();
  by('loop').onclick = loop;
  by('speed').onchange = () => { video.playbackRate = Number(by('speed').value); };
  by('zoom').onchange = () => { drawing.zoom = Number(by('zoom').value); drawing.draw(); };
  by('bones').onclick = () => { drawing.showsBody = toggled('bones'); drawing.draw(); };
  by('which').onchange = () => {
    const which = by('which').value;
    if (which === 'copy' && !motion.copy_s) { by('which').value = 'film'; askForCopy('make'); } else source(which);
  };
  by('mend-joints').onclick = () => {
    drawing.mends = toggled('mend-joints');
    video.pause();
    by('drawing').classList.toggle('mends', drawing.mends);
    by('drawing').tabIndex = drawing.mends ? 0 : -1;
    by('joint-choice').hidden = !drawing.mends;
    by('joint-hint').hidden = !drawing.mends;
    drawing.settle();
  };
  by('joint').onchange = () => { drawing.joint = Number(by('joint').value); drawing.draw(); };
  for (const button of document.querySelectorAll('[data-foot]')) {
    button.onclick = () => change({kind: button.dataset.kind, name: button.dataset.foot, frame: film.frame});
  }
  by('drawing').addEventListener('keydown', (event) => {
    if (!drawing.mends) return;
    const by_px = event.shiftKey ? 5 : 1;
    const ways = {ArrowLeft: [-by_px, 0], ArrowRight: [by_px, 0], ArrowUp: [0, -by_px], ArrowDown: [0, by_px]};
    if (ways[event.key]) drawing.nudge(ways[event.key]);
    else if (event.key === 'Enter' && drawing.held) drawing.on.moved(0, drawing.held.joint, drawing.held.px);
    else if (event.key === 'Escape') drawing.settle();
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
  document.addEventListener('keydown', (event) => {
    if (!motion || event.ctrlKey || event.altKey || event.metaKey) return;
    const {target} = event;
    if (target.closest('input:not([type=range]), select, textarea')) return;
    const acts = {
      ',': () => film.step(-1), '.': () => film.step(1),
      '[': () => toEvent(-1), ']': () => toEvent(1), l: loop, L: loop,
    };
    if (!target.closest('button, a, summary')) acts[' '] = () => film.toggle();
    if (!target.closest('[role=slider], input')) {
      acts.ArrowLeft = () => film.stepSeconds(-0.1);
      acts.ArrowRight = () => film.stepSeconds(0.1);
    }
    if (!acts[event.key]) return;
    event.preventDefault();
    acts[event.key]();
  });
}

send('motion', undefined, '');
