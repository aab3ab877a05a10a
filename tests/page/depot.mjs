// A small invented depot made with the program's own commands, and a server over it.
import { execFileSync, spawn, spawnSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const source = join(dirname(fileURLToPath(import.meta.url)), "..", "..");

/** {address, depot, verify(), stop()}; the depot's today is 2026-11-25. before(run): run(words, input) prepares the depot; words:
 *  further ones of the server's. */
export async function serve(witmark, { before = () => {}, words = [] } = {}) {
  const folder = mkdtempSync(join(tmpdir(), "witmark-page-"));
  const depot = join(folder, "depot");
  const run = (...words) => execFileSync(witmark, [...words, "--depot", depot, "--by", "Ines"], { cwd: source, stdio: ["ignore", "ignore", "pipe"] });
  execFileSync(witmark, ["depot", "new", "--name", "Test depot", "--zone", "Europe/Lisbon", "--depot", depot], { stdio: ["ignore", "ignore", "pipe"] });
  run("book", "take", "books/brine6.yaml");
  run("book", "take", "books/lark72.yaml");
  run("machine", "add", "BR6-02204", "--label", "B-03", "--site", "North <beach> & \"quay\"", "--with", "cab,exhaust-filter", "--at", "2026-01-05", "--in-service", "2025-03-01");
  run("machine", "add", "L72-1544", "--label", "M 02/b", "--at", "2026-01-05");
  run("record", "meter", "B-03", "610", "--at", "2026-01-05");
  run("record", "meter", "B-03", "900", "--at", "2026-06-05");
  run("record", "meter", "B-03", "1190", "--at", "2026-11-20");
  run("record", "reading", "B-03", "front-tyre-left", "1.9 bar", "--at", "2026-11-20");
  run("record", "opened", "B-03", "bypass", "--at", "2026-11-24", "--note", "<script>document.title='broken'</script>");
  before((given, input = "") => execFileSync(witmark, [...given, "--depot", depot], { cwd: source, input, stdio: ["pipe", "ignore", "pipe"] }));
  const server = spawn(witmark, ["serve", ...words, "--port", "0", "--today", "2026-11-25", "--by", "Ines", "--depot", depot], { cwd: source });
  server.stderr.pipe(process.stderr);
  const address = await new Promise((resolve, reject) => {
    server.stdout.on("data", (text) => resolve(String(text).trim().split("\n")[0]));
    server.on("exit", () => reject(new Error("the server ended before it began")));
  });
  const ended = new Promise((resolve) => server.on("exit", (status) => resolve(status)));
  return {
    address,
    depot,
    /** What log verify complains of, "" when nothing. */
    verify() {
      const found = spawnSync(witmark, ["log", "verify", "--depot", depot], { cwd: source });
      return found.status === 0 ? "" : `${found.stdout}${found.stderr}`;
    },
    async stop() {
      server.kill("SIGTERM");
      const status = await ended;
      rmSync(folder, { recursive: true, force: true });
      return status;
    },
  };
}
