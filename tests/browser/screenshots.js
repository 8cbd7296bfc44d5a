// Pictures of the bench page and the wall, to be looked at: screenshots.js FOLDER
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { startBench, startWall } from "./support/bench.js";
import { LAPTOP, PHONE, launch, onLine, open } from "./support/browser.js";

const folder = process.argv[2] ?? "screenshots";
await mkdir(folder, { recursive: true });
const browser = await launch();
const benches = [];
for (const name of ["bench-1", "bench-2", "bench-3", "bench-4"]) benches.push(await startBench({ name }));
const [bench] = benches;
const shoot = (page, name, options = {}) => page.screenshot({ path: join(folder, `${name}.png`), ...options });
const sprays = (page) => page.waitForFunction(() => document.body.dataset.trigger === "spraying", null, { timeout: 60_000 });

const page = await open(browser, bench.url, { viewport: LAPTOP });
await onLine(page);
await page.keyboard.press("t");
await page.fill("#tip-other", "415");
await page.click("#tip-send");
await page.keyboard.press("c");
await page.fill("#material-other", "hull primer");
await page.click("#material-send");
// A grade after each burst: heavy tails at first, none at last.
for (const [k, grade] of [3, 2, 1, 0, 0].entries()) {
  await page.waitForFunction((n) => document.querySelectorAll("#bursts tr").length > n, k, { timeout: 60_000 });
  await page.keyboard.press(String(grade));
  await new Promise((go) => setTimeout(go, 400));
}
await sprays(page);
await shoot(page, "laptop-light");
await shoot(page, "laptop-light-whole", { fullPage: true });
for (const [name, options] of [
  ["laptop-dark", { viewport: LAPTOP, colorScheme: "dark" }],
  ["full-hd-light", { viewport: { width: 1920, height: 1080 } }],
  ["phone-light", { viewport: PHONE, hasTouch: true, isMobile: true, deviceScaleFactor: 2 }],
  ["phone-dark", { viewport: PHONE, hasTouch: true, isMobile: true, deviceScaleFactor: 2, colorScheme: "dark" }],
  ["small-phone", { viewport: { width: 360, height: 640 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 }],
  ["phone-sideways", { viewport: { width: 844, height: 390 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 }],
]) {
  const other = await open(browser, bench.url, options);
  await onLine(other);
  await new Promise((go) => setTimeout(go, 700));
  await shoot(other, name);
  if (name === "phone-light") {
    await shoot(other, "phone-light-whole", { fullPage: true });
    await other.tap("#open-tip");
    await shoot(other, "phone-tip");
    await other.keyboard.press("Escape");
    await other.tap("#open-more");
    await other.tap("#open-calibrate");
    await shoot(other, "phone-calibrate");
  }
  await other.context().close();
}
const viewer = await open(browser, bench.wall, { viewport: PHONE });
await onLine(viewer);
await shoot(viewer, "phone-viewer");
const wall = await startWall(benches.map((one) => one.wall));
for (const colorScheme of ["light", "dark"]) {
  const shown = await open(browser, wall.url, { viewport: { width: 1920, height: 1080 }, colorScheme });
  await shown.waitForFunction(() => document.querySelectorAll('.card[data-reached="yes"]').length === 4);
  await new Promise((go) => setTimeout(go, 1_000));
  await shoot(shown, `wall-${colorScheme}`);
  await shown.context().close();
}
await bench.rig.stop();
await page.waitForFunction(() => document.body.dataset.link === "absent", null, { timeout: 60_000 });
await shoot(page, "laptop-logger-gone");
await browser.close();
await wall.stop();
for (const one of benches) await one.stop();
