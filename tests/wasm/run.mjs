// run.mjs FILE.wasm EVENTS - runs a suite under Node's WASI, from the top of the source tree.
import { readFile } from 'node:fs/promises';
import { WASI } from 'node:wasi';

const [, , file, events] = process.argv;
const wasi = new WASI({
    version: 'preview1',
    args: [file],
    env: { LETOFF_YAML_EVENTS: '/events', LETOFF_CHIMES: 'chimes' },
    preopens: { '.': '.', '/events': events, '/tmp': events },
});
const module = await WebAssembly.compile(await readFile(file));
const instance = await WebAssembly.instantiate(module, { wasi_snapshot_preview1: wasi.wasiImport });
process.exitCode = wasi.start(instance) || 0;
