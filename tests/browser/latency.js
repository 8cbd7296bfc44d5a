// Delay from the arrival of a frame at the recorder to the painted screen, at 1 kHz, and what it costs:
// a table, no test. Take the machine's other work off first.
import { readFileSync, readdirSync } from "node:fs";
import { chromium } from "playwright-core";
import { startBench } from "./support/bench.js";
import { LAPTOP, PHONE, onLine } from "./support/browser.js";

const SECONDS = Number(process.env.TIPCURVE_SECONDS ?? 60);
// Clock ticks of the system's accounting a second: 100 on every Linux of the last twenty years.
const TICKS = 100;

const stat = (pid) => { try { return readFileSync(`/proc/${pid}/stat`, "utf8").replace(/^.*\) /, "").split(" "); } catch { return null; } };

// Processor time of a process and all its children, s.
function spent(root) {
  const pids = readdirSync("/proc").filter((name) => /^\d+$/.test(name)).map(Number);
  const parents = new Map(pids.map((pid) => [pid, Number(stat(pid)?.[1] ?? 0)]));
  const is_own = (pid) => { for (let at = pid; at > 1; at = parents.get(at) ?? 0) if (at === root) return true; return false; };
  return pids.filter(is_own).map(stat).filter(Boolean).reduce((sum, s) => sum + (Number(s[11]) + Number(s[12])) / TICKS, 0);
}

const quantile = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];

async function measure(rate, viewport, viewers) {
  const bench = await startBench({ rate });
  const server = await chromium.launchServer({ executablePath: process.env.TIPCURVE_BROWSER ?? "/usr/bin/chromium", headless: true,
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"] });
  const browser = await chromium.connect(server.wsEndpoint());
  const pages = [];
  for (let k = 0; k < viewers; k += 1) {
    const page = await (await browser.newContext({ viewport })).newPage();
    await page.goto(bench.url);
    await onLine(page);
    pages.push(page);
  }
  await new Promise((go) => setTimeout(go, 5_000));
  await pages[0].evaluate(() => { window.benchDelays.length = 0; });
  const [recorder, page, at] = [spent(bench.child.pid), spent(server.process().pid), Date.now()];
  await new Promise((go) => setTimeout(go, SECONDS * 1000));
  const elapsed = (Date.now() - at) / 1000;
  const share = (now, then) => `${(100 * (now - then) / elapsed).toFixed(1)} %`;
  const row = { rate, viewport: `${viewport.width} x ${viewport.height}`, viewers, recorder: share(spent(bench.child.pid), recorder),
    browser: share(spent(server.process().pid), page) };
  const delays = (await pages[0].evaluate(() => window.benchDelays)).sort((a, b) => a - b);
  await browser.close();
  await server.close();
  await bench.stop();
  return { ...row, updates: delays.length, p50: quantile(delays, 0.5), p99: quantile(delays, 0.99), worst: delays.at(-1) };
}

console.log("| samples/s | screen | viewers | updates | p50, ms | p99, ms | worst, ms | recorder, of one core | browser, of one core |");
console.log("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
for (const [rate, viewport, viewers] of [[1000, LAPTOP, 1], [1000, PHONE, 1], [1000, LAPTOP, 2], [500, LAPTOP, 1]]) {
  const row = await measure(rate, viewport, viewers);
  console.log(`| ${row.rate} | ${row.viewport} | ${row.viewers} | ${row.updates} | ${row.p50.toFixed(0)} | ${row.p99.toFixed(0)} | ${row.worst.toFixed(0)} | ${row.recorder} | ${row.browser} |`);
}
