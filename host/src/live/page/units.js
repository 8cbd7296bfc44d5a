// Numbers for a person: SI in, the viewer's unit out. Factors come from the recorder, none stands here.
const keep = (key, value) => { try { localStorage.setItem(key, value); } catch { /* private window */ } };
const kept = (key) => { try { return localStorage.getItem(key); } catch { return null; } };

export const units = { pressure: { symbol: "", in_si: 1, decimals: 0 }, flow: { symbol: "", in_si: 1, decimals: 2 } };

// Fills a select with the units on offer and remembers the choice.
export function offerUnits(select, kind, offered, changed) {
  const wanted = kept(`unit-${kind}`) ?? offered[0]?.symbol;
  select.replaceChildren(...offered.map((unit) => new Option(unit.symbol, unit.symbol)));
  const choose = () => {
    units[kind] = offered.find((unit) => unit.symbol === select.value) ?? offered[0] ?? units[kind];
    changed();
  };
  select.value = offered.some((unit) => unit.symbol === wanted) ? wanted : offered[0]?.symbol;
  select.onchange = () => { keep(`unit-${kind}`, select.value); choose(); };
  choose();
}

export const toUnit = (kind, si) => (si == null ? null : si / units[kind].in_si);
export const figure = (kind, si) => (si == null ? "---" : (si / units[kind].in_si).toFixed(units[kind].decimals));
export const withUnit = (kind, si) => (si == null ? "-" : `${figure(kind, si)} ${units[kind].symbol}`);
export const percent = (ratio) => (ratio == null ? "-" : `${(ratio * 100).toFixed(0)} %`);
export const celsius = (kelvin) => (kelvin == null ? "-" : `${(kelvin - 273.15).toFixed(1)} °C`);

// A phrase of the recorder (text with quantities between) as plain text.
export function sentence(phrase) {
  return phrase.map((part) => {
    if (part.text != null) return part.text;
    if (part.pressure_pa != null) return withUnit("pressure", part.pressure_pa);
    if (part.fine_pressure_pa != null) {
      const { in_si, decimals, symbol } = units.pressure;
      return `${(part.fine_pressure_pa / in_si).toFixed(decimals + 2)} ${symbol}`;
    }
    if (part.flow_m3_per_s != null) return withUnit("flow", part.flow_m3_per_s);
    return percent(part.ratio);
  }).join("");
}

export function clock(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  const two = (n) => String(n).padStart(2, "0");
  return `${two(Math.floor(s / 3600))}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
}

export function bytes(n) {
  if (n == null) return "-";
  const step = ["B", "kB", "MB", "GB", "TB"];
  let k = 0;
  let v = n;
  while (v >= 1000 && k < step.length - 1) { v /= 1000; k += 1; }
  return `${v.toFixed(v < 10 && k > 0 ? 1 : 0)} ${step[k]}`;
}

export function useTheme(select) {
  const set = () => {
    if (select.value === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = select.value;
  };
  select.value = kept("theme") ?? "auto";
  set();
  select.addEventListener("change", () => { keep("theme", select.value); set(); });
}

export { keep, kept };
