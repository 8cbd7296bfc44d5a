// Figures, trace and points on the bench page; reload, two viewers, a recorder that goes away.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { startBench, until } from "./support/bench.js";
import { PHONE, launch, onLine, open, text } from "./support/browser.js";

let browser;
let bench;
before(async () => { browser = await launch(); bench = await startBench(); });
after(async () => { await browser.close(); await bench.stop(); });

test("figures move, and say what the rig does in words and by shape", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  // Each state lasts seconds: what belongs together is read in one go, however slow the machine.
  await page.waitForFunction(() => document.getElementById("state-word").textContent === "Holding"
    && Number(document.getElementById("pressure").textContent) > 60);
  // 0.93 of 80 bar gives 0.83 L/min by the test rig's drawing; every later step more.
  const spraying = await page.waitForFunction(() => {
    const figure = (id) => Number(document.getElementById(id).textContent);
    return document.body.dataset.trigger === "spraying" && figure("flow") > 0.75
      ? { pressure: figure("pressure"), flow: figure("flow"), has_shape: document.querySelector(".for-spraying").checkVisibility() } : null;
  }, null, { timeout: 60_000 });
  const { pressure, flow, has_shape } = await spraying.jsonValue();
  assert.ok(has_shape, "the state has a shape of its own");
  assert.ok(pressure > 60 && pressure < 180, `${pressure} bar`);
  assert.ok(flow < 1.4, `${flow} L/min`);
  assert.match(await text(page, "battery"), /17\.6 V, 14\.0 A/);
  await page.waitForFunction(() => /^[1-9]\d* %$|^0 %$/.test(document.getElementById("sag").textContent));
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("each burst that ends becomes a row and a point", async () => {
  const page = await open(browser, bench.url);
  await page.waitForFunction(() => document.querySelectorAll("#bursts tr").length >= 2, null, { timeout: 60_000 });
  const painted = await page.evaluate(() => {
    const canvas = document.querySelector("#nozzle canvas");
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    const seen = new Set();
    for (let k = 0; k < data.length; k += 4) seen.add(`${data[k]},${data[k + 1]},${data[k + 2]},${data[k + 3]}`);
    return seen.size;
  });
  assert.ok(painted > 3, "the chart is not blank");
  await page.context().close();
});

test("units are chosen by each viewer and kept over a reload, which loses nothing", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  await page.selectOption("#pressure-unit", "psi");
  await page.waitForFunction(() => Number(document.getElementById("pressure").textContent) > 900);
  const before = await page.evaluate(async () => (await import("/assets/store.js")).trace.low.length);
  await page.reload();
  await onLine(page);
  assert.equal(await page.inputValue("#pressure-unit"), "psi");
  assert.equal(new URL(page.url()).hash, "", "the token does not stay in the address");
  assert.ok(await page.isVisible("#keys"), "the right to note is kept");
  const after = await page.evaluate(async () => (await import("/assets/store.js")).trace.low.length);
  assert.ok(after >= before, `${after} bins after the reload, ${before} before`);
  await page.context().close();
});

test("a second viewer sees the same, and the notes of the first", async () => {
  const [one, two] = [await open(browser, bench.url), await open(browser, bench.wall, { viewport: PHONE })];
  await Promise.all([onLine(one), onLine(two)]);
  assert.ok(await two.isHidden("#keys"), "a viewer's link gives no buttons");
  await one.click('[data-tails="2"]');
  await two.waitForFunction(() => document.getElementById("notes").textContent.includes("tails 2"));
  const bursts = (page) => page.locator("#bursts tr").count();
  await until("the same bursts", async () => (await bursts(one)) === (await bursts(two)));
  assert.deepEqual([...one.faults, ...two.faults], []);
  await one.context().close();
  await two.context().close();
});

test("when the logger goes away the page says so, and shows no stale state", async () => {
  const other = await startBench({ name: "bench-2" });
  const page = await open(browser, other.url);
  await onLine(page);
  await other.rig.stop();
  await page.waitForFunction(() => document.body.dataset.link === "absent", null, { timeout: 60_000 });
  assert.equal(await text(page, "state-word"), "No reading");
  assert.equal(await text(page, "pressure"), "---");
  assert.match(await text(page, "warnings"), /the logger is gone/);
  await other.stop();
  await page.waitForFunction(() => document.body.dataset.link === "none", null, { timeout: 60_000 });
  assert.match(await text(page, "link-words"), /No connection to the recorder/);
  await page.context().close();
});
