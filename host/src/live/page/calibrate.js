// Guided calibration: caution first, then zero, span and catches; the recorder does the measuring and
// the arithmetic and writes the file.
import { NO_ANSWER, post } from "./line.js";
import { sentence, units, withUnit } from "./units.js";
import { state } from "./store.js";

const $ = (id) => document.getElementById(id);
let zero = null;
let zeroAfter = null;
let spans = [];
let catches = [];
let running = null;
let last = null;
const pressed = new Set();

const number = (id) => { const text = $(id).value.trim().replace(",", "."); return text === "" ? NaN : Number(text); };
const problem = (words) => { $("cal-problem").textContent = words ?? ""; };

// One question: the words of the one before go, and those of a refusal come.
async function put(path, body) {
  problem("");
  const answer = await post(path, body);
  if (!answer.ok) problem(answer.body.error ?? NO_ANSWER);
  return answer;
}

async function ask(path, body) {
  const answer = await put(path, body);
  return answer.ok ? answer.body : null;
}

function rows(place, texts) {
  place.replaceChildren(...texts.map((text) => { const item = document.createElement("li"); item.textContent = text; return item; }));
}

function show() {
  const relieved = $("cal-relieved").checked;
  $("cal-unit").textContent = units.pressure.symbol;
  $("cal-zero").disabled = !relieved;
  $("cal-zero-shown").textContent = zero ? `zero is ${withUnit("pressure", zero.indicated_pa)}` : "not taken";
  $("cal-zero-after-shown").textContent = zeroAfter ? `zero is ${withUnit("pressure", zeroAfter.indicated_pa)}` : "not taken";
  $("cal-zero-after").disabled = !zero || running != null;
  $("cal-span").disabled = !zero;
  $("cal-start").disabled = !zero || running != null;
  $("cal-stop").disabled = running == null;
  $("cal-add").disabled = last == null;
  $("cal-write").disabled = !zero;
  rows($("cal-spans"), spans.map((s) => `gauge ${withUnit("pressure", s.reference_pa)}, sensor ${withUnit("pressure", s.indicated_pa)}`));
  rows($("cal-catches"), catches.map((c) => `${(c.caught_kg * 1000).toFixed(1)} g, ${c.n_edges} pulses in ${c.duration_s.toFixed(2)} s`));
}

async function takeZero() {
  const mean = await ask("/api/calibrate/mean", { seconds: 5 });
  if (mean) { zero = mean; show(); }
}

async function takeZeroAgain() {
  const mean = await ask("/api/calibrate/mean", { seconds: 5 });
  if (mean) { zeroAfter = mean; show(); }
}

async function takeSpan() {
  const reading = number("cal-reference");
  const accuracy = number("cal-gauge");
  if (!(reading > 0)) { $("cal-reference").focus(); problem(`Enter what the reference gauge shows, in ${units.pressure.symbol}`); return; }
  if (!(accuracy > 0 && accuracy <= 10)) { $("cal-gauge").focus(); problem("Enter the gauge's accuracy, above 0 and at most 10 %"); return; }
  const mean = await ask("/api/calibrate/mean", { seconds: 5 });
  if (!mean) return;
  spans.push({ reference_pa: reading * units.pressure.in_si, indicated_pa: mean.indicated_pa, u_indicated_pa: mean.u_indicated_pa });
  $("cal-reference").value = "";
  show();
}

async function start() {
  const answer = await ask("/api/calibrate/start", {});
  if (answer) { running = state.whole?.figures.edges ?? 0; last = null; show(); }
}

async function stop() {
  $("cal-stop").disabled = true;
  const answer = await put("/api/calibrate/stop", {});
  // A stop that nobody answered is pressed again: the recorder then says the same.
  if (answer.status !== 0) {
    running = null;
    last = answer.ok ? answer.body : null;
  }
  if (last) { $("cal-pulses").textContent = String(last.n_edges); $("cal-mass").focus(); }
  show();
}

function add() {
  const grams = number("cal-mass");
  if (!(grams > 0)) { $("cal-mass").focus(); problem("Enter what was caught, in grams"); return; }
  catches.push({ caught_kg: grams / 1000, n_edges: last.n_edges, duration_s: last.duration_s });
  last = null;
  $("cal-mass").value = "";
  problem("");
  show();
}

async function write() {
  const operator = $("cal-operator").value.trim();
  if (!operator) { $("cal-operator").focus(); problem("Enter your initials: the file says who calibrated"); return; }
  const density = number("cal-density");
  const warmth = number("cal-warmth");
  const given = (value) => (Number.isFinite(value) ? value : null);
  const body = { operator, relieved: $("cal-relieved").checked, zero, zero_after: zeroAfter, span: spans, catches,
    liquid_c: given(warmth), density_kg_per_m3: given(density), gauge_accuracy_pct: given(number("cal-gauge")),
    gauge_division_bar: given(number("cal-division")), scale_step_g: given(number("cal-step")) };
  const answer = await ask("/api/calibrate/write", body);
  if (answer) rows($("cal-result"), answer.words.map(sentence));
}

// A second press before the answer would take one point twice.
async function once(id, act) {
  if (pressed.has(id)) return;
  pressed.add(id);
  try { await act(); } finally { pressed.delete(id); }
}

// Wires the dialog; `open` shows one.
export function useCalibration(open) {
  const press = { "cal-zero": takeZero, "cal-zero-after": takeZeroAgain, "cal-span": takeSpan, "cal-start": start, "cal-stop": stop, "cal-add": add, "cal-write": write };
  for (const [id, act] of Object.entries(press)) $(id).addEventListener("click", () => once(id, act));
  $("cal-relieved").addEventListener("change", show);
  $("open-calibrate").addEventListener("click", () => {
    $("more-dialog").close();
    zero = null; zeroAfter = null; spans = []; catches = []; running = null; last = null;
    $("cal-relieved").checked = false;
    rows($("cal-result"), []);
    problem("");
    show();
    open("calibrate-dialog");
  });
  setInterval(() => {
    if (running != null && state.whole) $("cal-pulses").textContent = String(state.whole.figures.edges - running);
  }, 200);
}

