// The snapshot on this side: the whole first, then what changes, bins of the trace by their number.
export const state = { whole: null, right: "read", lastAt: 0 };
export const trace = { first: 0, bin: 0.05, low: [], high: [], flow: [] };
const MOST_BINS = 6000;

function putTrace(view) {
  if (!view) return;
  trace.bin = view.bin_s || trace.bin;
  const end = trace.first + trace.low.length;
  if (trace.low.length === 0 || view.first > end + MOST_BINS || view.first < trace.first - MOST_BINS) {
    trace.first = view.first;
    for (const name of ["low", "high", "flow"]) trace[name] = [];
  }
  view.low_pa.forEach((low, k) => {
    const at = view.first + k - trace.first;
    if (at < 0) return;
    while (trace.low.length < at) { trace.low.push(null); trace.high.push(null); trace.flow.push(null); }
    trace.low[at] = low;
    trace.high[at] = view.high_pa[k];
    trace.flow[at] = view.flow_m3_per_s[k];
  });
  const over = trace.low.length - MOST_BINS;
  if (over > 0) {
    for (const name of ["low", "high", "flow"]) trace[name].splice(0, over);
    trace.first += over;
  }
}

export function takeWhole(whole) {
  state.whole = whole;
  trace.low = []; trace.high = []; trace.flow = [];
  putTrace(whole.trace);
}

export function takeUpdate(update) {
  if (!state.whole) return;
  putTrace(update.trace);
  for (const part of ["figures", "recorder", "setting", "bursts", "curves", "words", "notes", "version"]) {
    if (update[part] !== undefined) state.whole[part] = update[part];
  }
}
