// The bench page: joins line, store, charts and buttons.
import { keep, kept, offerUnits, useTheme } from "./units.js";
import { NO_ANSWER, follow, post, setToken, takeToken } from "./line.js";
import { state, takeUpdate, takeWhole } from "./store.js";
import { Nozzle, Trace } from "./charts.js";
import { count, send, useOutbox } from "./notes.js";
import { showBursts, showFigures, showLink, showNotes, showRecorder, showSetting, showWords } from "./show.js";
import { useCalibration } from "./calibrate.js";

const $ = (id) => document.getElementById(id);
const trace = new Trace($("trace"));
const nozzle = new Nozzle($("nozzle"));
let connected = false;
let due = false;
let hasCross = false;
// Delay from the arrival of a frame at the recorder to the screen, milliseconds (for the tests).
const delays = [];
window.benchDelays = delays;

function showAll() {
  const whole = state.whole;
  if (!whole) return;
  $("recording").textContent = whole.bench.recording || "Bench";
  document.title = `${whole.bench.recording || "Bench"} - tipcurve`;
  $("simulated").hidden = !whole.bench.is_simulated;
  showSetting(whole.setting);
  showRecorder(whole.recorder);
  showWords(whole.words);
  showNotes(whole.notes);
  showBursts(whole.bursts);
  nozzle.show(whole);
  showNow();
}

function showNow() {
  if (!state.whole) return;
  showLink(connected ? state.whole.recorder.link : "none");
  showFigures(state.whole.figures, connected);
  if (!due) { due = true; requestAnimationFrame(() => { due = false; trace.draw(); }); }
  // The cross of the present point goes as soon as nothing is sprayed, or nothing is known.
  const sprays = connected && state.whole.figures.trigger === "spraying";
  if (sprays || hasCross) nozzle.show(sprays ? state.whole : { ...state.whole, figures: {} });
  hasCross = sprays;
}

function allow(right) {
  state.right = right;
  const may = right === "write" || right === "own";
  $("keys").hidden = !may;
  $("pad-closed").hidden = may;
  $("invite").disabled = right !== "own";
  $("open-calibrate").disabled = !may;
}

function heard(name, data) {
  connected = true;
  if (name === "right") { allow(data); return; }
  if (name === "whole") {
    takeWhole(data);
    offerUnits($("pressure-unit"), "pressure", data.bench.units.pressure, showAll);
    offerUnits($("flow-unit"), "flow", data.bench.units.flow, showAll);
    showAll();
    return;
  }
  takeUpdate(data);
  if (data.setting) showSetting(data.setting);
  if (data.recorder) showRecorder(data.recorder);
  if (data.words) showWords(data.words);
  if (data.notes) showNotes(data.notes);
  if (data.bursts) showBursts(data.bursts);
  if (data.bursts || data.curves) nozzle.show(state.whole);
  showNow();
  if (data.arrived_ms) {
    // The second frame callback runs when the first has been painted.
    requestAnimationFrame(() => requestAnimationFrame(() => {
      delays.push(Date.now() - data.arrived_ms);
      if (delays.length > 5000) delays.shift();
    }));
  }
}

function say(kind, words) {
  $("toast").dataset.kind = kind;
  $("toast").textContent = words;
}

const note = (body, words) => send("/api/notes", body, words);
const GRADES = ["no tails", "faint tails", "clear tails", "heavy tails"];
const tails = (grade) => note({ tails: grade }, `Tails ${grade}: ${GRADES[grade]}`);

// A number goes up or down by one; anything else is asked for.
function stepDial(step) {
  const now = state.whole?.setting.dial;
  if (now == null || now.trim() === "" || !Number.isFinite(Number(now))) { open("dial-dialog", "dial-other"); return; }
  const next = String(Math.round((Number(now) + step) * 100) / 100);
  state.whole.setting.dial = next;
  showSetting(state.whole.setting);
  note({ dial: next, event: "setup" }, `Dial ${next}`);
}

function open(dialog, first) {
  $(dialog).showModal();
  if (first) $(first).focus();
}

function offer(place, names, input) {
  const buttons = names.map((name) => {
    const button = document.createElement("button");
    button.type = "button"; button.textContent = name; button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      buttons.forEach((other) => other.setAttribute("aria-pressed", String(other === button)));
      input.value = name;
    });
    return button;
  });
  place.replaceChildren(...buttons);
}

function openTip() {
  $("tip-other").value = "";
  offer($("tip-choices"), state.whole?.bench.tips ?? [], $("tip-other"));
  open("tip-dialog", state.whole?.bench.tips.length ? null : "tip-other");
}
function sendTip() {
  const tip = $("tip-other").value.trim();
  if (!tip) { $("tip-other").focus(); return; }
  note({ tip, event: "tip_changed" }, `Tip ${tip}`);
  $("tip-dialog").close();
}

function openMaterial() {
  $("material-other").value = state.whole?.setting.material ?? "";
  $("thinner").value = "";
  offer($("material-choices"), state.whole?.bench.materials ?? [], $("material-other"));
  open("material-dialog");
}
const decimal = (id) => { const text = $(id).value.trim().replace(",", "."); return text === "" ? null : Number(text); };
function sendMaterial() {
  const material = $("material-other").value.trim();
  const thinner = decimal("thinner");
  if (!material) { $("material-other").focus(); return; }
  if (thinner != null && !(thinner >= 0 && thinner <= 100)) { $("thinner").focus(); return; }
  const body = { material, event: "setup" };
  if (thinner != null) body.thinner_pct = thinner;
  note(body, `Coating ${material}${thinner != null ? `, ${thinner} % thinner` : ""}`);
  $("material-dialog").close();
}

function openText() {
  $("text").value = ""; $("comb").value = "";
  document.querySelector('input[name="event"][value=""]').checked = true;
  open("text-dialog", "text");
}
function sendText() {
  const text = $("text").value.trim();
  const comb = decimal("comb");
  const event = document.querySelector('input[name="event"]:checked').value;
  if (!text && comb == null && !event) { $("text").focus(); return; }
  if (comb != null && !(comb >= 0 && comb <= 5000)) { $("comb").focus(); return; }
  const body = {};
  if (text) body.text = text;
  if (comb != null) body.comb_um = comb;
  if (event) body.event = event;
  note(body, `Note: ${text || event || `comb ${comb} µm`}`);
  $("text-dialog").close();
}
function sendDial() {
  const dial = $("dial-other").value.trim();
  if (!dial) { $("dial-other").focus(); return; }
  note({ dial, event: "setup" }, `Dial ${dial}`);
  $("dial-dialog").close();
}
const openDial = () => { $("more-dialog").close(); $("dial-other").value = state.whole?.setting.dial ?? ""; open("dial-dialog", "dial-other"); };
const undo = () => send("/api/undo", {}, "Last note taken back");
const sync = () => note({ event: "sync" }, "Sync: three short pulls");
const ran = () => note({ runs: true }, "It ran");

async function sendPair(code) {
  const answer = await post("/api/pair", { code: code ?? $("pair-code").value });
  if (answer.ok) { setToken(answer.body.token); location.reload(); return; }
  $("pair-problem").textContent = answer.body.error ?? NO_ANSWER;
  if (!$("pair-dialog").open) open("pair-dialog", "pair-code");
}

async function invite() {
  const answer = await post("/api/pairing", {});
  $("invite-code").textContent = answer.ok ? answer.body.code : "";
  if (!answer.ok) say("problem", answer.body.error ?? NO_ANSWER);
  if (!answer.ok) $("more-dialog").close();
}

const KEYS = {
  0: () => tails(0), 1: () => tails(1), 2: () => tails(2), 3: () => tails(3), r: ran, t: openTip, s: sync, n: openText,
  c: openMaterial, u: undo, d: openDial, "+": () => stepDial(1), "=": () => stepDial(1), "-": () => stepDial(-1),
};

function useButtons() {
  document.querySelectorAll("[data-tails]").forEach((button) => button.addEventListener("click", () => tails(Number(button.dataset.tails))));
  const press = {
    "note-run": ran, "open-tip": openTip, "tip-send": sendTip, "note-sync": sync, "open-text": openText, "text-send": sendText,
    "open-material": openMaterial, "material-send": sendMaterial, undo, "dial-up": () => stepDial(1), "dial-down": () => stepDial(-1),
    "dial-send": sendDial, "open-dial": openDial, "open-more": () => open("more-dialog"), "open-pair": () => open("pair-dialog", "pair-code"),
    "pair-send": () => sendPair(), invite,
  };
  for (const [id, act] of Object.entries(press)) $(id).addEventListener("click", act);
  const enter = { "tip-other": sendTip, "dial-other": sendDial, "pair-code": () => sendPair(), comb: sendText, "material-other": sendMaterial, thinner: sendMaterial };
  for (const [id, act] of Object.entries(enter)) {
    $(id).addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); act(); } });
  }
  $("shortcuts").checked = kept("shortcuts") !== "off";
  $("shortcuts").addEventListener("change", () => keep("shortcuts", $("shortcuts").checked ? "on" : "off"));
  $("span").addEventListener("change", () => { trace.span = Number($("span").value); trace.draw(); });
  $("theme").addEventListener("change", () => { trace.draw(); if (state.whole) nozzle.show(state.whole); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { trace.draw(); if (state.whole) nozzle.show(state.whole); });
  document.addEventListener("keydown", (event) => {
    if (!$("shortcuts").checked || event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    if (document.querySelector("dialog[open]") || /^(INPUT|TEXTAREA|SELECT)$/.test(event.target.tagName)) return;
    if ($("keys").hidden) return;
    const act = KEYS[event.key.toLowerCase()];
    if (act) { event.preventDefault(); act(); }
  });
}

const code = takeToken();
useTheme($("theme"));
useButtons();
allow("read");
useOutbox(say);
useCalibration(open);
if (code) sendPair(code);
follow({
  heard,
  lost: () => {
    connected = false;
    showLink("none");
    showNow();
    if (count()) say("problem", `No line to the recorder: ${count()} kept here, sent when it is back`);
  },
  shut: () => { allow("read"); if (!$("pair-dialog").open) open("pair-dialog", "pair-code"); },
});
