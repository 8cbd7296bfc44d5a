// Notes on their way to the recorder. A note is kept on this device until the recorder has it, and
// carries an id of its own, so that one sent twice is written once.
import { keep, kept } from "./units.js";
import { post } from "./line.js";

let waiting = JSON.parse(kept("waiting-notes") ?? "[]");
let busy = false;
let tell = () => {};

const store = () => keep("waiting-notes", JSON.stringify(waiting));

function newId() {
  const random = new Uint8Array(12);
  crypto.getRandomValues(random);
  return Array.from(random, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// `said(kind, words)` shows what became of a note.
export function useOutbox(said) {
  tell = said;
  setInterval(deliver, 2000);
  deliver();
}

export function send(path, body, words) {
  waiting.push({ path, body: { id: newId(), ...body }, words, pressed: Date.now() });
  store();
  tell("done", `${words} …`);
  navigator.vibrate?.(30);
  deliver();
}

export const count = () => waiting.length;

async function deliver() {
  if (busy || waiting.length === 0) return;
  busy = true;
  try {
    while (waiting.length > 0) {
      const note = waiting[0];
      const body = { ...note.body };
      if (note.path === "/api/notes") body.age_s = Math.max(0, (Date.now() - note.pressed) / 1000);
      const answer = await post(note.path, body);
      if (answer.status === 0 || answer.status === 429 || answer.status === 507 || answer.status === 503) {
        tell("problem", answer.body.error
          ? `${answer.body.error} - ${waiting.length} kept here, tried again`
          : `No line to the recorder: ${waiting.length} kept here, sent when it is back`);
        return;
      }
      waiting.shift();
      store();
      if (answer.ok) tell("done", `✓ ${note.words}`);
      else tell("problem", `Not noted: ${answer.body.error ?? answer.status}`);
    }
  } finally {
    busy = false;
  }
}
