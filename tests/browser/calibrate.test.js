// The calibration dialog: caution first, then a zero, then a file.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { startBench } from "./support/bench.js";
import { launch, onLine, open, text } from "./support/browser.js";

let browser;
let bench;
before(async () => { browser = await launch(); bench = await startBench(); });
after(async () => { await browser.close(); await bench.stop(); });

// What one press of the zero brought. Read in one go: the press took the words of the press before away.
const answered = async (page) => (await page.waitForFunction(() => {
  const [problem, zero] = ["cal-problem", "cal-zero-shown"].map((id) => document.getElementById(id).textContent);
  return problem || zero !== "not taken" ? { problem, zero } : null;
})).jsonValue();

// The test rig holds for six seconds in nine: a mean is taken in between, or refused as moving.
async function takeZero(page) {
  for (;;) {
    await page.click("#cal-zero");
    const said = await answered(page);
    if (said.zero !== "not taken") return;
    assert.match(said.problem, /moved by|came in the last/);
    await new Promise((go) => setTimeout(go, 400));
  }
}

test("a zero is taken only after the caution is confirmed, and each file is kept", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  await page.click("#open-more");
  await page.click("#open-calibrate");
  assert.match(await text(page, "calibrate-dialog"), /Relieve pressure at the gun and lock the trigger now/);
  assert.ok(await page.isDisabled("#cal-zero"));
  assert.ok(await page.isDisabled("#cal-write"));
  await page.check("#cal-relieved");
  await takeZero(page);
  await page.click("#cal-write");
  await page.waitForFunction(() => document.getElementById("cal-problem").textContent.includes("initials"));
  await page.fill("#cal-operator", "AB");
  await page.click("#cal-write");
  // A line under pressure is no zero: the recorder refuses what no sensor can have.
  await page.waitForFunction(() => document.getElementById("cal-problem").textContent.includes("nothing was written"));
  assert.deepEqual((await readdir(bench.recording)).filter((name) => name.startsWith("calibration-")), []);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("the page writes what the recorder found, under a new name each time", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const send = () => page.evaluate(async () => {
    const { post } = await import("/assets/line.js");
    return post("/api/calibrate/write", { operator: "AB", relieved: true, zero: { indicated_pa: 12000, u_indicated_pa: 300 } });
  });
  for (const count of [1, 2]) {
    const answer = await send();
    assert.equal(answer.status, 200, JSON.stringify(answer.body));
    const files = (await readdir(bench.recording)).filter((name) => name.startsWith("calibration-"));
    assert.equal(files.length, count);
    assert.match(await readFile(join(bench.recording, files[0]), "utf8"), /operator = "AB"[\s\S]*zero_bar = 0\.12/);
  }
  await page.context().close();
});

test("a stop that nobody answered is pressed again", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  await page.click("#open-more");
  await page.click("#open-calibrate");
  await page.check("#cal-relieved");
  await takeZero(page);
  // Between two pulls: refused while the meter turns.
  for (;;) {
    await page.click("#cal-start");
    await page.waitForFunction(() => document.getElementById("cal-problem").textContent || !document.getElementById("cal-stop").disabled);
    if (await page.isEnabled("#cal-stop")) break;
    await new Promise((go) => setTimeout(go, 400));
  }
  await page.route("**/api/calibrate/stop", (route) => route.abort());
  await page.click("#cal-stop");
  await page.waitForFunction(() => document.getElementById("cal-problem").textContent.startsWith("No answer"));
  await page.unroute("**/api/calibrate/stop");
  await page.click("#cal-stop");
  await page.waitForFunction(() => document.getElementById("cal-stop").disabled && !document.getElementById("cal-problem").textContent.startsWith("No answer"));
  assert.deepEqual(page.faults, []);
  await page.context().close();
});
