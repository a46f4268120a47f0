// Sends films one after the other with their progress, and keeps the list of work fresh.

const form = document.getElementById('send');
const jobs = document.getElementById('jobs');

function line(text, isWrong) {
  const said = document.createElement('p');
  said.textContent = text;
  said.className = isWrong ? 'wrong' : 'said';
  document.getElementById('sent').append(said);
  return said;
}

function send(film, said) {
  return new Promise((resolve) => {
    const data = new FormData(form);
    data.delete('film');
    data.append('film', film, film.name);
    const request = new XMLHttpRequest();
    const {sending, failed} = document.getElementById('sent').dataset;
    request.upload.addEventListener('progress', (event) => {
      const share = event.lengthComputable ? Math.round(100 * event.loaded / event.total) : 0;
      said.textContent = sending.replace('{share}', share).replace('{film}', () => film.name);
    });
    request.addEventListener('loadend', () => {
      const isSent = request.status >= 200 && request.status < 400;
      if (isSent) said.remove();
      else {
        const page = new DOMParser().parseFromString(request.responseText || '', 'text/html');
        const why = page.querySelector('.wrong');
        said.className = 'wrong';
        said.textContent = `${film.name}: ${why ? why.textContent : failed}`;
      }
      resolve(isSent);
    });
    request.open('POST', form.action);
    request.send(data);
  });
}

let shown = '';
async function refresh() {
  try {
    const answer = await fetch('/film/jobs');
    const html = answer.ok ? await answer.text() : shown;
    // What is being used is not replaced under the hand, and what has not changed not at all.
    if (html !== shown && !jobs.contains(document.activeElement)) {
      jobs.innerHTML = html;
      shown = html;
    }
  } catch { /* the program has ended: what stands there stays */ }
}
setInterval(refresh, 1000);

if (form) {
  const drop = document.getElementById('drop');
  const input = document.getElementById('film');
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const films = [...input.files];
    const button = form.querySelector('button.main');
    button.disabled = true;
    for (const film of films) await send(film, line(film.name)); // eslint-disable-line no-await-in-loop
    button.disabled = false;
    input.value = '';
    refresh();
  });
  for (const name of ['dragover', 'dragenter']) {
    drop.addEventListener(name, (event) => { event.preventDefault(); drop.classList.add('over'); });
  }
  for (const name of ['dragleave', 'drop']) {
    drop.addEventListener(name, () => drop.classList.remove('over'));
  }
  drop.addEventListener('drop', (event) => {
    event.preventDefault();
    input.files = event.dataTransfer.files;
    form.requestSubmit();
  });
}
