// Every button writes the file, by touch on a phone and by keyboard alone; text stays text.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { startBench, until } from "./support/bench.js";
import { PHONE, launch, onLine, open, toast } from "./support/browser.js";

let browser;
let bench;
before(async () => { browser = await launch(); bench = await startBench(); });
after(async () => { await browser.close(); await bench.stop(); });

// The newest row, once there are more than `count`.
async function written(count) {
  return until("a row in notes.csv", async () => {
    const rows = await bench.notes();
    return rows.length > count ? rows.at(-1) : null;
  });
}

// Does something, and checks the row that it writes.
async function check(act, expected) {
  const count = (await bench.notes()).length;
  await act();
  const { time, ...row } = await written(count);
  assert.match(time, /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d/);
  assert.deepEqual(row, expected);
  assert.equal((await bench.notes()).length, count + 1, "one row for one press");
}

// Writes are limited to a few a second for each address.
const pause = () => new Promise((go) => setTimeout(go, 250));

test("each note button on a phone writes its row", async () => {
  const page = await open(browser, bench.url, { viewport: PHONE, hasTouch: true, isMobile: true });
  await onLine(page);
  for (const grade of ["0", "1", "2", "3"]) {
    await check(() => page.tap(`[data-tails="${grade}"]`), { tails: grade });
    await pause();
  }
  await check(() => page.tap("#note-run"), { runs: "1" });
  await check(() => page.tap("#note-sync"), { event: "sync" });
  await check(async () => {
    await page.tap("#open-tip");
    assert.match(await page.textContent("#tip-dialog"), /relieve pressure, lock the trigger/);
    await page.tap("#tip-choices button:text('415')");
    await page.tap("#tip-send");
  }, { tip: "415", event: "tip_changed" });
  await pause();
  await check(async () => {
    await page.tap("#open-material");
    await page.tap("#material-choices button:text('hull primer')");
    await page.fill("#thinner", "2.5");
    await page.tap("#material-send");
  }, { material: "hull primer", thinner_pct: "2.5", event: "setup" });
  await check(async () => {
    await page.tap("#dial-up");
    await page.fill("#dial-other", "6");
    await page.tap("#dial-send");
  }, { dial: "6", event: "setup" });
  await page.waitForFunction(() => document.getElementById("set-dial").textContent === "6");
  await pause();
  await check(() => page.tap("#dial-up"), { dial: "7", event: "setup" });
  await page.waitForFunction(() => document.getElementById("set-dial").textContent === "7");
  await check(() => page.tap("#dial-down"), { dial: "6", event: "setup" });
  await pause();
  await check(async () => {
    await page.tap("#open-text");
    await page.fill("#text", "left edge heavy");
    await page.fill("#comb", "120");
    await page.check('input[value="filter_cleaned"]');
    await page.tap("#text-send");
  }, { text: "left edge heavy", comb_um: "120", event: "filter_cleaned" });
  await toast(page, "✓");
  const count = (await bench.notes()).length;
  await page.tap("#undo");
  const undo = await written(count);
  assert.equal(undo.event, "undo");
  assert.match(undo.text, /^takes back /);
  assert.equal((await bench.notes()).length, count + 1, "nothing was deleted");
  await page.waitForFunction(() => document.querySelector("#notes .undone")?.textContent.includes("left edge heavy"));
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("everything is done with the keyboard alone", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const press = (key) => page.keyboard.press(key);
  await check(() => press("2"), { tails: "2" });
  await check(() => press("r"), { runs: "1" });
  await check(async () => {
    await press("t");
    await page.waitForSelector("#tip-dialog[open]");
    await page.locator("#tip-other").focus();
    await page.keyboard.type("311");
    await press("Enter");
  }, { tip: "311", event: "tip_changed" });
  await pause();
  await check(async () => { await press("d"); await page.waitForSelector("#dial-dialog[open]"); await page.keyboard.press("Control+A"); await page.keyboard.type("4"); await press("Enter"); },
    { dial: "4", event: "setup" });
  await page.waitForFunction(() => document.getElementById("set-dial").textContent === "4");
  await check(() => press("+"), { dial: "5", event: "setup" });
  await pause();
  // A letter typed into a field is no shortcut.
  await check(async () => { await press("n"); await page.waitForSelector("#text-dialog[open]"); await page.keyboard.type("runs 3 0 u"); await page.keyboard.press("Tab"); await press("Enter"); },
    { text: "runs 3 0 u" });
  // Every button is reached by Tab, in order, with a visible focus.
  await page.locator("h1").evaluate(() => document.activeElement.blur());
  const reached = [];
  for (let k = 0; k < 60; k += 1) {
    await press("Tab");
    const at = await page.evaluate(() => {
      const now = document.activeElement;
      return { id: now.id || now.dataset.tails || now.tagName, outline: getComputedStyle(now).outlineStyle };
    });
    // Past the last one the focus goes round by way of the window.
    if (at.id === "BODY") continue;
    assert.notEqual(at.outline, "none", `no visible focus on ${at.id}`);
    reached.push(at.id);
  }
  for (const id of ["0", "1", "2", "3", "note-run", "open-tip", "dial-down", "dial-up", "note-sync", "open-text", "open-material", "undo", "open-more", "span"]) {
    assert.ok(reached.includes(id), `${id} is not reached by Tab: ${reached}`);
  }
  await press("Escape");
  await page.context().close();
});

test("markup and formulas in a note are shown and written as text, and run nowhere", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const evil = '<img src=x onerror="window.ran=1"><script>window.ran=1</script>';
  const count = (await bench.notes()).length;
  await page.click("#open-text");
  await page.fill("#text", evil);
  await page.click("#text-send");
  assert.equal((await written(count)).text, evil);
  await page.waitForFunction(() => document.getElementById("notes").textContent.includes("<script>"));
  assert.equal(await page.evaluate(() => window.ran), undefined);
  assert.equal(await page.locator("#notes img, #notes script").count(), 0);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a note pressed without a line is kept and written once when it is back", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const count = (await bench.notes()).length;
  await page.context().setOffline(true);
  await page.click('[data-tails="1"]');
  await toast(page, "kept here");
  await new Promise((go) => setTimeout(go, 1_500));
  await page.context().setOffline(false);
  const row = await written(count);
  assert.equal(row.tails, "1");
  await toast(page, "✓");
  assert.equal((await bench.notes()).length, count + 1);
  await page.context().close();
});

test("a recorder that answers nothing holds no note up: it is kept, and written once", async () => {
  const page = await open(browser, bench.url);
  await onLine(page);
  const count = (await bench.notes()).length;
  // As for a phone out of reach whose line nobody has closed: the question goes out, nothing comes back.
  await page.route("**/api/notes", () => {});
  await page.click('[data-tails="2"]');
  await toast(page, "kept here");
  assert.equal((await bench.notes()).length, count);
  await page.unroute("**/api/notes");
  const row = await written(count);
  assert.equal(row.tails, "2");
  await toast(page, "✓");
  assert.equal((await bench.notes()).length, count + 1);
  await page.context().close();
});
