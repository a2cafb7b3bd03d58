// Holds Python: starts it from the files beside this one, then answers one call after the other.
import { loadPyodide } from "./pyodide.mjs";

const beside = (name) => new URL(name, self.location.href).href;
const bytes = async (name) => {
  const answer = await fetch(beside(name));
  if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
  return answer.arrayBuffer();
};

// Hosts hold the interpreter squeezed. The service worker has it plain; without one it is unsqueezed here.
const ask = self.fetch.bind(self);
self.fetch = async (request, options) => {
  const url = String(request instanceof Request ? request.url : request);
  if (!url.endsWith("/pyodide.asm.wasm")) return ask(request, options);
  if (await hasPlain()) return ask(request, options);
  const squeezed = await ask(beside("pyodide.asm.wasm.gz"));
  if (!squeezed.ok) throw new Error(`pyodide.asm.wasm.gz: ${squeezed.status}`);
  const plain = squeezed.body.pipeThrough(new DecompressionStream("gzip"));
  return new Response(plain, { headers: { "Content-Type": "application/wasm" } });
};
const hasPlain = async () => Boolean(self.caches && (await caches.match(beside("pyodide.asm.wasm"))));

const NOTHING_MORE = JSON.stringify({
  info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten", python: "3.14.0", version: "0" },
  packages: {},
});

async function start() {
  const began = performance.now();
  const bench = bytes("bench.zip");
  const python = await loadPyodide({ indexURL: beside("./"), lockFileContents: NOTHING_MORE });
  python.unpackArchive(await bench, "zip", { extractDir: "/bench" });
  python.runPython("import sys; sys.path.insert(0, '/bench')");
  const engine = python.pyimport("subbase.web.pocket.engine");
  return { call: engine.call, seconds: (performance.now() - began) / 1000 };
}

const started = start();
started.then(
  ({ seconds }) => self.postMessage({ awake: true, seconds }),
  (error) => self.postMessage({ awake: false, why: String(error && error.message ? error.message : error) }),
);

self.addEventListener("message", async (event) => {
  const { number, request } = event.data;
  try {
    const { call } = await started;
    const began = performance.now();
    const answer = call(JSON.stringify(request));
    self.postMessage({ number, answer: JSON.parse(answer), seconds: (performance.now() - began) / 1000 });
  } catch (error) {
    self.postMessage({ number, trouble: String(error && error.message ? error.message : error) });
  }
});
