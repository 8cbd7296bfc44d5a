// The wall: several benches side by side, from several recorders, nothing to press.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { startBench, startWall } from "./support/bench.js";
import { launch, onLine, open } from "./support/browser.js";

let browser;
let benches;
let wall;
before(async () => {
  browser = await launch();
  benches = [await startBench({ name: "bench-a" }), await startBench({ name: "bench-b" })];
  wall = await startWall(benches.map((bench) => bench.wall));
});
after(async () => { await browser.close(); await wall.stop(); await benches[0].stop(); });

test("every bench shows its figures, its state in words, and has no button", async () => {
  const page = await open(browser, wall.url, { viewport: { width: 1920, height: 1080 } });
  await page.waitForFunction(() => document.querySelectorAll('.card[data-reached="yes"]').length === 2);
  await page.waitForFunction(() => [...document.querySelectorAll(".pressure .digits")].every((d) => Number(d.textContent) > 60));
  assert.deepEqual(await page.locator(".name").allTextContents(), ["bench-a", "bench-b"]);
  for (const word of await page.locator(".state-word").allTextContents()) assert.match(word, /Holding|Spraying/);
  assert.equal(await page.locator("button, input, textarea, form").count(), 0);
  const first = await page.locator(".pressure .digits").first().textContent();
  await page.waitForFunction((was) => document.querySelector(".pressure .digits").textContent !== was, first);
  const outcome = await page.evaluate(async () => {
    const answer = await fetch("/api/notes", { method: "POST", headers: { "Content-Type": "application/json" }, body: '{"id":"forged-0001","tails":1}' });
    return answer.status;
  });
  assert.ok(outcome >= 400, `a note to the wall: ${outcome}`);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a note at a bench shows on the wall, and a recorder that ends stays with the reason", async () => {
  const page = await open(browser, wall.url, { viewport: { width: 1920, height: 1080 } });
  const bench = await open(browser, benches[0].url);
  await onLine(bench);
  await bench.keyboard.press("t");
  await bench.fill("#tip-other", "415");
  await bench.click("#tip-send");
  await page.waitForFunction(() => document.querySelector(".set").textContent.includes("tip 415"));
  await benches[1].stop();
  await page.waitForFunction(() => document.querySelectorAll('.card[data-reached="no"]').length === 1, null, { timeout: 60_000 });
  const gone = page.locator('.card[data-reached="no"]');
  assert.equal(await gone.locator(".name").textContent(), "bench-b");
  assert.match(await gone.locator(".problem").textContent(), /Recorder not reached/);
  assert.equal(await gone.locator(".pressure .digits").textContent(), "---");
  await page.context().close();
  await bench.context().close();
});
