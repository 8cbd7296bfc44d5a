// A recorder with a rig on its line, as child processes, in a folder of its own.
import { spawn } from "node:child_process";
import { mkdtemp, readFile, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";

const program = process.env.TIPCURVE_PROGRAM;
const rig = process.env.TIPCURVE_TEST_RIG;
if (!program || !rig) throw new Error("start through tests/browser/run, which builds the programs");

const PATIENCE_MS = 60_000;

function gathered(stream) {
  const kept = { text: "" };
  stream.setEncoding("utf8");
  stream.on("data", (part) => { kept.text += part; });
  return kept;
}

export async function until(what, look) {
  const end = Date.now() + PATIENCE_MS;
  for (;;) {
    const found = await look();
    if (found) return found;
    if (Date.now() > end) throw new Error(`waited in vain: ${what}`);
    await new Promise((go) => setTimeout(go, 20));
  }
}

export function ended(child) {
  if (child.exitCode != null || child.signalCode != null) return Promise.resolve(child.exitCode);
  return new Promise((go) => child.once("exit", go));
}

// A rig on a loopback socket: { address, stop }.
export async function startRig(rate = 500) {
  const child = spawn(rig, ["--rate", String(rate)], { stdio: ["pipe", "pipe", "inherit"] });
  const out = gathered(child.stdout);
  const address = await until("the rig's address", () => out.text.split("\n")[0] || null);
  return { address: address.trim(), child, stop: async () => { child.stdin.end(); await ended(child); } };
}

const SESSION = ["new", "--no-questions", "--rig", "test rig", "--working-pressure", "210", "--full-scale", "400",
  "--pulses-per-litre", "2500", "--material", "hull primer", "--material", "cabin enamel", "--tip", "311", "--tip", "415"];

// A recorder: { url, wall, folder, recording, notes(), stop }.
export async function startBench({ rate = 500, name = "bench-1", options = [] } = {}) {
  const folder = await mkdtemp(join(tmpdir(), "tipcurve-browser-"));
  const recording = join(folder, name);
  await ended(spawn(program, [...SESSION, recording], { stdio: "ignore" }));
  const line = await startRig(rate);
  const child = spawn(program, ["record", recording, "--port", line.address, "--page-port", "0", ...options], { stdio: ["ignore", "pipe", "pipe"] });
  const err = gathered(child.stderr);
  const out = gathered(child.stdout);
  const link = (words) => until(words, () => new RegExp(`${words}(http\\S+)`).exec(err.text)?.[1] ?? null);
  const url = await link("bench page: ");
  const wall = await link("looking only\\): ");
  const stop = async () => {
    child.kill("SIGINT");
    const code = await ended(child);
    await line.stop();
    await rm(folder, { recursive: true, force: true });
    if (code !== 0) throw new Error(`the recorder ended with ${code}: ${err.text}`);
  };
  const notes = async () => rows(await readFile(join(recording, "notes.csv"), "utf8"));
  return { url, wall, folder, recording, child, err, out, notes, stop, origin: new URL(url).origin, rig: line };
}

// A wall over several recorders.
export async function startWall(links) {
  const child = spawn(program, ["wall", "--page-port", "0", ...links], { stdio: ["ignore", "pipe", "pipe"] });
  const out = gathered(child.stdout);
  const url = await until("the wall's link", () => /wall: (http\S+)/.exec(out.text)?.[1] ?? null);
  return { url, stop: async () => { child.kill("SIGINT"); await ended(child); } };
}

// Rows of a CSV without quotes in it, as objects; empty cells left out.
function rows(text) {
  const [head, ...lines] = text.trim().split(/\r?\n/).map(cells);
  return lines.map((line) => Object.fromEntries(head.map((name, k) => [name, line[k]]).filter(([, value]) => value)));
}

function cells(line) {
  return [...line.matchAll(/("(?:[^"]|"")*"|[^,]*)(?:,|$)/g)].slice(0, -1)
    .map(([, cell]) => (cell.startsWith('"') ? cell.slice(1, -1).replaceAll('""', '"') : cell));
}
