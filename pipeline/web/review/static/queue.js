// The queue by keyboard alone. Every answer is a form of the page; this only fills and sends it.

const reps = [...document.querySelectorAll('#reps > .rep')];
const PLACE = 'crossemetry-queue-place';
let now = -1;

function choose(index, {focus = true} = {}) {
  if (!reps.length) return;
  now = Math.min(Math.max(index, 0), reps.length - 1);
  reps.forEach((rep, i) => rep.classList.toggle('now', i === now));
  if (focus) reps[now].focus({preventScroll: true});
  reps[now].scrollIntoView({block: 'nearest'});
}

function remember() {
  sessionStorage.setItem(PLACE, String(Math.max(now, 0)));
}

function closeAll() {
  document.querySelectorAll('.answers details[open]').forEach((one) => { one.open = false; });
}

function opened(name) {
  const part = reps[now].querySelector(`details.${name}`);
  closeAll();
  part.open = true;
  return part;
}

const keys = {
  j: () => choose(now + 1),
  k: () => choose(now - 1),
  ArrowDown: () => choose(now + 1),
  ArrowUp: () => choose(now - 1),
  Enter: () => { remember(); reps[now].querySelector('a.open').click(); },
  a: () => reps[now].querySelector('.agree button').click(),
  d: () => opened('disagree').querySelector('input[name=why]:checked').focus(),
  n: () => opened('note').querySelector('input[name=text]').focus(),
  c: () => { const list = opened('note').querySelector('.cue select'); if (list) list.focus(); },
};

document.addEventListener('keydown', (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const {target} = event;
  if (event.key === 'Escape') {
    closeAll();
    if (now >= 0) choose(now);
    return;
  }
  const whys = target.matches('input[name=why]') && target.form.querySelectorAll('input[name=why]');
  if (whys) {
    const chosen = whys[Number(event.key) - 1];
    if (chosen) {
      event.preventDefault();
      chosen.checked = true;
      chosen.focus();
      if (chosen.value === 'other_move') target.form.querySelector('select[name=move]').focus();
    }
    return;
  }
  if (target.matches('input, select, textarea')) return;
  if (event.key === 'u') {
    const undo = document.getElementById('undo');
    if (undo) { event.preventDefault(); undo.click(); }
    return;
  }
  const does = keys[event.key];
  if (!does || now < 0) return;
  // A link or a button that has the focus is what Enter means.
  if (event.key === 'Enter' && target.matches('a, button, summary')) return;
  event.preventDefault();
  does();
});

document.addEventListener('focusin', (event) => {
  const rep = event.target.closest('#reps > .rep');
  const index = rep ? reps.indexOf(rep) : -1;
  if (index >= 0 && index !== now) choose(index, {focus: false});
});
document.addEventListener('submit', remember);

const place = Number(sessionStorage.getItem(PLACE) || 0);
sessionStorage.removeItem(PLACE);
choose(place);
