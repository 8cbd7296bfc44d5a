// The wall: several benches, nothing to press but the units.
import { figure, offerUnits, sentence, units, useTheme } from "./units.js";
import { follow, takeToken } from "./line.js";

const $ = (id) => document.getElementById(id);
const TRIGGER = { spraying: ["▶", "Spraying"], holding: ["■", "Holding"], low_reading: ["▽", "Low reading"], unknown: ["○", "No reading"] };
const LINK = { waiting: "Waiting for the logger", silent: "Logger silent", garbled: "No logger's data", absent: "Logger gone", ended: "Recording ended" };
let view = null;
let offered = false;

function put(place, text) { if (place.textContent !== text) place.textContent = text; }

function card(index) {
  const place = $("benches");
  while (place.children.length <= index) place.append($("card").content.cloneNode(true));
  return place.children[index];
}

function show(connected) {
  if (!view) return;
  const n = view.benches.length;
  $("benches").dataset.columns = n === 1 ? 1 : n <= 4 ? 2 : n <= 9 ? 3 : 4;
  view.benches.forEach((bench, index) => {
    const at = card(index);
    const live = connected && bench.is_reached;
    at.dataset.reached = live ? "yes" : "no";
    put(at.querySelector(".name"), bench.recording || bench.address);
    at.querySelector(".simulated").hidden = !bench.is_simulated;
    const [glyph, word] = TRIGGER[live ? bench.figures.trigger : "unknown"];
    const state = at.querySelector(".state-word");
    state.dataset.glyph = glyph;
    put(state, word);
    put(at.querySelector(".pressure .digits"), figure("pressure", live ? bench.figures.pressure_pa : null));
    put(at.querySelector(".flow .digits"), figure("flow", live ? bench.figures.flow_m3_per_s : null));
    put(at.querySelector(".pressure .unit"), units.pressure.symbol);
    put(at.querySelector(".flow .unit"), units.flow.symbol);
    const set = [bench.setting.tip && `tip ${bench.setting.tip}`, bench.setting.dial && `dial ${bench.setting.dial}`, bench.setting.material];
    put(at.querySelector(".set"), [...set.filter(Boolean), `${bench.n_bursts} bursts`].join(" · "));
    put(at.querySelector(".say"), bench.words.map(sentence).join(" "));
    const troubles = [...bench.warnings];
    if (bench.samples_lost) troubles.push(`${bench.samples_lost} samples lost`);
    if (bench.is_reached && LINK[bench.link]) troubles.unshift(LINK[bench.link]);
    if (!bench.is_reached) troubles.unshift(`Recorder not reached: ${bench.problem}`);
    if (!connected) troubles.unshift("No connection to the wall program");
    put(at.querySelector(".problem"), troubles.join(" · "));
  });
}

takeToken();
useTheme($("theme"));
follow({
  heard: (name, data) => {
    if (name !== "wall") return;
    view = data;
    if (!offered) {
      offered = true;
      offerUnits($("pressure-unit"), "pressure", data.units.pressure, () => show(true));
      offerUnits($("flow-unit"), "flow", data.units.flow, () => show(true));
    }
    put($("link"), `${data.benches.filter((b) => b.is_reached).length} of ${data.benches.length} reached`);
    show(true);
  },
  lost: () => { put($("link"), "No connection"); show(false); },
  shut: () => put($("link"), "This device is not let in"),
});
