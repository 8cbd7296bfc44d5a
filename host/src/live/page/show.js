// Snapshot to page. Text goes in as text, never as markup.
import { bytes, celsius, clock, figure, percent, sentence, units, withUnit } from "./units.js";

const $ = (id) => document.getElementById(id);
const put = (id, text) => { const place = $(id); if (place && place.textContent !== text) place.textContent = text; };

const LINK = {
  waiting: "Waiting for the logger", on_line: "Logger on line", silent: "Logger silent",
  garbled: "No logger's data", absent: "Logger gone, looking for it", ended: "Recording ended", none: "No connection to the recorder",
};
const TRIGGER = {
  spraying: ["Spraying", ""],
  holding: ["Holding", "Trigger closed, line under pressure"],
  low_reading: ["Low reading", "Not a proof that the line is safe"],
  unknown: ["No reading", ""],
};

export function showLink(link) {
  document.body.dataset.link = link;
  put("link-words", LINK[link] ?? link);
}

export function showFigures(now, connected) {
  const trigger = connected ? now.trigger : "unknown";
  document.body.dataset.trigger = trigger;
  put("pressure", figure("pressure", now.pressure_pa));
  put("flow", figure("flow", now.flow_m3_per_s));
  put("pressure-symbol", units.pressure.symbol);
  put("flow-symbol", units.flow.symbol);
  put("state-word", TRIGGER[trigger][0]);
  let note = TRIGGER[trigger][1];
  if (now.is_saturated) note = "Pressure is at the end of the sensor's range";
  put("state-note", note);
  put("sag", percent(now.sag_ratio));
  put("stalled", withUnit("pressure", now.stalled_pa));
  $("battery-box").hidden = now.supply_v == null;
  put("battery", now.supply_v == null ? "-" : `${now.supply_v.toFixed(1)} V${now.supply_a == null ? "" : `, ${now.supply_a.toFixed(1)} A`}`);
  $("warmth-box").hidden = now.material_k == null;
  put("warmth", celsius(now.material_k));
}

export function showSetting(setting) {
  put("set-tip", setting.tip ?? "not noted");
  put("set-dial", setting.dial ?? "not noted");
  const thinner = setting.thinner_ratio ? `, ${percent(setting.thinner_ratio)} thinner` : "";
  put("set-material", setting.material ? setting.material + thinner : "not noted");
}

export function showRecorder(recorder) {
  put("elapsed", clock(recorder.elapsed_s));
  const lost = recorder.samples_lost + recorder.edges_lost;
  put("losses", lost ? `${recorder.samples_lost} samples, ${recorder.edges_lost} pulses lost` : "nothing lost");
  const rows = [
    ["Source", recorder.source], ["Logger", recorder.device ?? "-"], ["Rate", `${recorder.sample_rate_hz.toFixed(0)} samples/s`],
    ["Samples", String(recorder.samples)], ["Samples lost", String(recorder.samples_lost)], ["Pulses lost", String(recorder.edges_lost)],
    ["Damaged frames", String(recorder.frames_damaged)], ["Line found again", `${recorder.reconnects} times`],
    ["Log", bytes(recorder.log_bytes)], ["Waiting for the disk", bytes(recorder.held_bytes)], ["Disk free", bytes(recorder.disk_free_bytes)],
  ];
  $("health").replaceChildren(...rows.flatMap(([name, value]) => {
    const dt = document.createElement("dt"); dt.textContent = name;
    const dd = document.createElement("dd"); dd.textContent = value;
    return [dt, dd];
  }));
  list($("warnings"), recorder.warnings);
}

function list(place, texts) {
  const shown = Array.from(place.children, (item) => item.textContent);
  if (shown.length === texts.length && shown.every((text, k) => text === texts[k])) return;
  place.replaceChildren(...texts.map((text) => { const item = document.createElement("li"); item.textContent = text; return item; }));
}

export const showWords = (words) => list($("words"), words.map(sentence));

export function showNotes(notes) {
  $("notes").replaceChildren(...notes.slice(-60).reverse().map((note) => {
    const item = document.createElement("li");
    const time = document.createElement("time"); time.textContent = note.time;
    const words = document.createElement("span"); words.textContent = note.words + (note.is_undone ? " (taken back)" : "");
    if (note.is_undone) words.className = "undone";
    item.append(time, words);
    return item;
  }));
}

export function showBursts(bursts) {
  $("bursts").replaceChildren(...bursts.slice(-80).reverse().map((burst) => {
    const row = document.createElement("tr");
    const cells = [String(burst.number), burst.group ?? "no note", withUnit("pressure", burst.pressure_pa), withUnit("flow", burst.flow_m3_per_s),
      percent(burst.sag_ratio), burst.tails == null ? "-" : String(burst.tails) + (burst.runs ? ", ran" : ""), burst.not_used ?? "yes"];
    row.append(...cells.map((text) => { const cell = document.createElement("td"); cell.textContent = text; return cell; }));
    return row;
  }));
}
