// The line to the recorder: a stream of events with a token in a header, found again when lost.
import { keep, kept } from "./units.js";

const SILENCE_MS = 12000;
// A phone that walks out of reach may hear neither an answer nor a fault for minutes.
const ANSWER_MS = 8000;

// A link carries the token after "#", which is never sent; it is taken out of the address at once.
export function takeToken() {
  const found = /^#(?:key|view)=([0-9a-f]+)$/.exec(location.hash);
  const code = /^#pair=([0-9A-Za-z-]+)$/.exec(location.hash);
  if (found) setToken(found[1]);
  if (found || code) history.replaceState(null, "", location.pathname);
  return code ? code[1] : null;
}
export const setToken = (token) => keep("token", token);
const headers = () => (kept("token") ? { Authorization: `Bearer ${kept("token")}` } : {});

// After a time without an answer nobody knows whether it was done.
export const NO_ANSWER = "No answer from the recorder; it may have done it all the same";

// Sends one thing. Gives { ok, status, body }; status 0 when the recorder was not reached in time.
export async function post(path, body) {
  try {
    const answer = await fetch(path, {
      method: "POST", headers: { "Content-Type": "application/json", ...headers() },
      body: JSON.stringify(body), cache: "no-store", signal: AbortSignal.timeout?.(ANSWER_MS),
    });
    return { ok: answer.ok, status: answer.status, body: await answer.json().catch(() => ({})) };
  } catch {
    return { ok: false, status: 0, body: {} };
  }
}

// Follows the events for ever. `heard(name, data)`, `lost(why)`, `shut()` when not let in.
export async function follow({ heard, lost, shut }) {
  let wait = 300;
  for (;;) {
    const stop = new AbortController();
    let watch = setTimeout(() => stop.abort(), SILENCE_MS);
    try {
      const answer = await fetch("/api/events", { headers: headers(), signal: stop.signal, cache: "no-store" });
      if (answer.status === 401) { shut(); wait = 3000; throw new Error("not let in"); }
      if (!answer.ok) throw new Error(`answered ${answer.status}`);
      wait = 300;
      const reader = answer.body.getReader();
      const text = new TextDecoder();
      let rest = "";
      for (;;) {
        const { done, value } = await reader.read();
        if (done) throw new Error("closed");
        clearTimeout(watch);
        watch = setTimeout(() => stop.abort(), SILENCE_MS);
        rest += text.decode(value, { stream: true });
        let end;
        while ((end = rest.indexOf("\n\n")) >= 0) {
          const block = rest.slice(0, end);
          rest = rest.slice(end + 2);
          const name = /^event: (.*)$/m.exec(block)?.[1];
          const data = /^data: (.*)$/m.exec(block)?.[1];
          if (name && data) heard(name, JSON.parse(data));
        }
      }
    } catch (fault) {
      lost(String(fault?.message ?? fault));
    }
    clearTimeout(watch);
    await new Promise((go) => setTimeout(go, wait));
    wait = Math.min(wait * 2, 3000);
  }
}
