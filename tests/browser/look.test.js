// Contrast and structure by axe, in light and dark, on phone, laptop and wall; sizes for thumbs and for
// five metres.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { startBench, startWall } from "./support/bench.js";
import { LAPTOP, PHONE, launch, onLine, open } from "./support/browser.js";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let browser;
let bench;
before(async () => { browser = await launch(); bench = await startBench(); });
after(async () => { await browser.close(); await bench.stop(); });

async function faults(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
  return violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join(", ")}`);
}

for (const colorScheme of ["light", "dark"]) {
  for (const [name, viewport] of [["laptop", LAPTOP], ["phone", PHONE]]) {
    test(`WCAG 2.2 AA as far as axe sees, ${name}, ${colorScheme}`, async () => {
      const page = await open(browser, bench.url, { viewport, colorScheme, bypassCSP: true });
      await onLine(page);
      await page.click('[data-tails="1"]');
      await page.waitForFunction(() => document.querySelectorAll("#notes li").length > 0);
      assert.deepEqual(await faults(page), []);
      for (const [button, dialog] of [["open-tip", "tip-dialog"], ["open-material", "material-dialog"], ["open-text", "text-dialog"], ["open-more", "more-dialog"]]) {
        await page.click(`#${button}`);
        assert.deepEqual(await faults(page), [], dialog);
        await page.keyboard.press("Escape");
      }
      await page.click("#open-more");
      await page.click("#open-calibrate");
      assert.deepEqual(await faults(page), [], "calibrate-dialog");
      await page.context().close();
    });
  }
  test(`WCAG 2.2 AA as far as axe sees, wall, ${colorScheme}`, async () => {
    const wall = await startWall([bench.wall]);
    const page = await open(browser, wall.url, { viewport: { width: 1920, height: 1080 }, colorScheme, bypassCSP: true });
    await page.waitForSelector('.card[data-reached="yes"]');
    assert.deepEqual(await faults(page), []);
    await page.context().close();
    await wall.stop();
  });
}

test("the choice of light or dark is the viewer's and is kept", async () => {
  const page = await open(browser, bench.url, { colorScheme: "light" });
  const ground = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await ground();
  await page.click("#open-more");
  await page.selectOption("#theme", "dark");
  await page.keyboard.press("Escape");
  const dark = await ground();
  assert.notEqual(dark, light);
  await page.reload();
  assert.equal(await ground(), dark);
  await page.context().close();
});

// A digit is read at five metres when it stands about 5 m / 200 = 25 mm high or more (ISO 9241-303 asks
// for 16 to 22 minutes of arc, 23 to 32 mm). A laptop of 1366 by 768 at 15.6 inches has 0.2528 mm a pixel.
test("the large figures stand 25 mm high on a laptop", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const heights = await page.evaluate(() => ["pressure", "flow"].map((id) => {
    const style = getComputedStyle(document.getElementById(id));
    const pen = document.createElement("canvas").getContext("2d");
    pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const box = pen.measureText("8");
    return box.actualBoundingBoxAscent + box.actualBoundingBoxDescent;
  }));
  for (const height of heights) assert.ok(height * 0.2528 >= 25, `${(height * 0.2528).toFixed(1)} mm`);
  await page.context().close();
});

test("on a phone the note buttons stand in reach of a thumb, large, and nothing runs out sideways", async () => {
  const page = await open(browser, bench.url, { viewport: PHONE, hasTouch: true, isMobile: true });
  await onLine(page);
  const boxes = await page.locator("#keys button").evaluateAll((buttons) => buttons.map((b) => { const { x, y, width, height } = b.getBoundingClientRect(); return { id: b.textContent, x, y, width, height }; }));
  assert.equal(boxes.length, 12);
  for (const box of boxes) {
    assert.ok(box.height >= 44 && box.width >= 44, `${box.id}: ${box.width} x ${box.height}`);
    assert.ok(box.y >= PHONE.height / 2, `${box.id} is in the upper half`);
    assert.ok(box.x >= 0 && box.x + box.width <= PHONE.width, `${box.id} runs out of the screen`);
  }
  for (const id of ["pressure", "flow", "state-word"]) {
    const box = await page.locator(`#${id}`).boundingBox();
    assert.ok(box.y >= 0 && box.y + box.height < boxes[0].y, `${id} is hidden by the buttons`);
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(wide <= PHONE.width, `${wide} px wide`);
  await page.context().close();
});

test("a narrow window of 320 pixels still has everything without scrolling sideways", async () => {
  const page = await open(browser, bench.url, { viewport: { width: 320, height: 640 } });
  await onLine(page);
  assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 320);
  await page.context().close();
});
