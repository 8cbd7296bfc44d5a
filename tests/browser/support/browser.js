// One headless browser with a profile of its own, nothing kept and nothing fetched in the background.
import { chromium } from "playwright-core";

const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync"];

export const LAPTOP = { width: 1366, height: 768 };
export const PHONE = { width: 390, height: 844 };

export const launch = () => chromium.launch({ executablePath: process.env.TIPCURVE_BROWSER ?? "/usr/bin/chromium", headless: true, args: FLAGS });

// A page that fails the test on any fault of its scripts and on any request to another host.
export async function open(browser, url, options = {}) {
  const context = await browser.newContext({ viewport: LAPTOP, ...options });
  const page = await context.newPage();
  page.faults = [];
  page.on("pageerror", (fault) => page.faults.push(String(fault)));
  page.on("console", (said) => { if (/Content Security Policy|Uncaught/.test(said.text())) page.faults.push(said.text()); });
  page.on("request", (request) => {
    if (!request.url().startsWith(new URL(url).origin)) page.faults.push(`asked elsewhere: ${request.url()}`);
  });
  await page.goto(url);
  return page;
}

export const text = (page, id) => page.textContent(`#${id}`);
export const toast = (page, words) => page.waitForFunction((w) => document.getElementById("toast").textContent.includes(w), words);
export const onLine = (page) => page.waitForFunction(() => document.body.dataset.link === "on_line");
