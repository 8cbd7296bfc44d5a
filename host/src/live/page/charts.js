// The scrolling trace and the nozzle chart. uPlot draws axes and lines; points are drawn here, each
// with its grade as a number and its use as a shape, so that nothing is told by colour alone.
import { toUnit, units } from "./units.js";
import { trace } from "./store.js";

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const FONT = "13px system-ui, sans-serif";

function axis(label, side, extra = {}) {
  return {
    side, label, labelSize: label ? 18 : 0, labelFont: FONT, font: FONT, size: side === 2 ? 30 : 46, gap: 3,
    stroke: () => css("--quiet"), grid: { stroke: () => css("--line"), width: 0.4 }, ticks: { show: false }, ...extra,
  };
}

function fit(plot, host) {
  const set = () => plot.setSize({ width: Math.max(120, host.clientWidth), height: Math.max(90, host.clientHeight) });
  new ResizeObserver(set).observe(host);
  set();
}

export class Trace {
  constructor(host) {
    this.host = host;
    this.span = 60;
    const bandFill = () => css("--band");
    this.plot = new uPlot({
      width: 300, height: 160, legend: { show: false }, cursor: { show: false },
      scales: { x: { time: false }, p: { range: (u, low, high) => [Math.min(0, low ?? 0), Math.max(1, high ?? 1) * 1.05] },
        q: { range: (u, low, high) => [0, Math.max(0.05, high ?? 0) * 1.25] } },
      series: [{},
        { scale: "p", stroke: () => css("--pressure"), width: 1.5, spanGaps: false, points: { show: false } },
        { scale: "p", stroke: () => css("--pressure"), width: 1.5, points: { show: false } },
        { scale: "q", stroke: () => css("--flow"), width: 2.5, dash: [7, 4], points: { show: false } }],
      bands: [{ series: [2, 1], fill: bandFill }],
      axes: [axis("", 2, { values: (u, splits) => splits.map((v) => `${v.toFixed(0)} s`) }),
        axis("", 3, { scale: "p" }), axis("", 1, { scale: "q", grid: { show: false } })],
    }, [[0], [null], [null], [null]], host);
    fit(this.plot, host);
  }

  draw() {
    const n = Math.min(trace.low.length, Math.ceil(this.span / trace.bin));
    const from = trace.low.length - n;
    const x = new Array(n); const low = new Array(n); const high = new Array(n); const flow = new Array(n);
    for (let k = 0; k < n; k += 1) {
      x[k] = (k - n + 1) * trace.bin;
      low[k] = toUnit("pressure", trace.low[from + k]);
      high[k] = toUnit("pressure", trace.high[from + k]);
      flow[k] = toUnit("flow", trace.flow[from + k]);
    }
    this.plot.batch(() => {
      this.plot.setData([x, low, high, flow], false);
      this.plot.setScale("x", { min: -this.span, max: 0 });
    });
    this.plot.redraw(true, true);
  }
}

// Groups are told apart by dash and label, the present one by its weight.
const DASHES = [[], [9, 5], [3, 4], [12, 4, 3, 4]];

export class Nozzle {
  constructor(host) {
    this.host = host;
    this.snapshot = { bursts: [], curves: [], figures: {} };
    this.plot = new uPlot({
      width: 300, height: 160, legend: { show: false }, cursor: { show: false }, padding: [12, 12, 0, 0],
      scales: { x: { time: false, range: () => this.range("x") }, y: { range: () => this.range("y") } },
      series: [{}, { points: { show: false }, paths: () => null }],
      axes: [axis("", 2), axis("", 3)],
      hooks: { draw: [(u) => this.paint(u)] },
    }, [[0], [0]], host);
    fit(this.plot, host);
  }

  range(which) {
    const { bursts, curves } = this.snapshot;
    const values = which === "x"
      ? [...bursts.map((b) => toUnit("pressure", b.pressure_pa)), ...curves.flatMap((c) => c.pressure_pa.map((p) => toUnit("pressure", p)))]
      : [...bursts.map((b) => toUnit("flow", b.flow_m3_per_s)), ...curves.flatMap((c) => c.flow_m3_per_s.map((q) => toUnit("flow", q)))];
    const found = values.filter((v) => v != null && Number.isFinite(v));
    const whole = toUnit(which === "x" ? "pressure" : "flow", which === "x" ? 2e7 : 2e-5);
    if (found.length === 0) return [0, whole];
    return [0, Math.max(...found) * 1.15];
  }

  show(snapshot) {
    this.snapshot = snapshot;
    this.plot.setData([[0], [0]], true);
  }

  paint(u) {
    const { ctx } = u;
    const px = devicePixelRatio || 1;
    const at = (p, q) => [u.valToPos(toUnit("pressure", p), "x", true), u.valToPos(toUnit("flow", q), "y", true)];
    ctx.save();
    ctx.beginPath();
    ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    ctx.clip();
    this.snapshot.curves.forEach((curve, k) => {
      ctx.strokeStyle = css("--pressure");
      ctx.lineWidth = (curve.is_current ? 3 : 1.5) * px;
      ctx.setLineDash((curve.is_current ? [] : DASHES[1 + (k % 3)]).map((d) => d * px));
      ctx.beginPath();
      curve.pressure_pa.forEach((p, i) => { const [x, y] = at(p, curve.flow_m3_per_s[i]); if (i) ctx.lineTo(x, y); else ctx.moveTo(x, y); });
      ctx.stroke();
      const last = curve.pressure_pa.length - 1;
      if (last >= 0) {
        const [x, y] = at(curve.pressure_pa[last], curve.flow_m3_per_s[last]);
        ctx.fillStyle = css("--ink"); ctx.font = `${12 * px}px system-ui, sans-serif`; ctx.textAlign = "right"; ctx.textBaseline = "bottom";
        // Clear of the last burst's point, and inside.
        ctx.fillText(curve.group, Math.min(x, u.bbox.left + u.bbox.width - 4 * px), Math.max(y - 12 * px, u.bbox.top + 14 * px));
      }
    });
    ctx.setLineDash([]);
    // Those with a grade last: it is not hidden by a later burst at the same pressure.
    const is_graded = (burst) => Number(burst.tails != null);
    [...this.snapshot.bursts].sort((a, b) => is_graded(a) - is_graded(b)).forEach((burst) => this.point(ctx, px, at, burst));
    this.live(ctx, px, at, u);
    ctx.restore();
  }

  point(ctx, px, at, burst) {
    if (burst.pressure_pa == null || burst.flow_m3_per_s == null) return;
    const [x, y] = at(burst.pressure_pa, burst.flow_m3_per_s);
    ctx.strokeStyle = css("--ink"); ctx.lineWidth = 1.5 * px;
    if (burst.not_used) {
      const r = 5 * px;
      ctx.beginPath(); ctx.moveTo(x - r, y - r); ctx.lineTo(x + r, y + r); ctx.moveTo(x + r, y - r); ctx.lineTo(x - r, y + r); ctx.stroke();
      return;
    }
    const r = (burst.tails == null ? 5 : 9) * px;
    ctx.fillStyle = burst.tails === 0 ? css("--card") : css("--ink");
    if (burst.tails == null) ctx.fillStyle = css("--card");
    ctx.beginPath(); ctx.arc(x, y, r, 0, 2 * Math.PI); ctx.fill(); ctx.stroke();
    if (burst.tails != null) {
      ctx.fillStyle = burst.tails === 0 ? css("--ink") : css("--card");
      ctx.font = `700 ${12 * px}px system-ui, sans-serif`; ctx.textAlign = "center"; ctx.textBaseline = "middle";
      ctx.fillText(String(burst.tails), x, y + 0.5 * px);
    }
  }

  // Where the rig is right now, as a cross over the whole chart.
  live(ctx, px, at, u) {
    const now = this.snapshot.figures;
    if (now.trigger !== "spraying" || now.pressure_pa == null || now.flow_m3_per_s == null) return;
    const [x, y] = at(now.pressure_pa, now.flow_m3_per_s);
    ctx.strokeStyle = css("--flow"); ctx.lineWidth = 1.5 * px;
    ctx.beginPath();
    ctx.moveTo(x, u.bbox.top); ctx.lineTo(x, u.bbox.top + u.bbox.height);
    ctx.moveTo(u.bbox.left, y); ctx.lineTo(u.bbox.left + u.bbox.width, y);
    ctx.stroke();
  }
}

export const chartUnits = () => `${units.pressure.symbol}, ${units.flow.symbol}`;
